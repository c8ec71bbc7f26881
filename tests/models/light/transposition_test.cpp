#include "models/light/transposition.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <initializer_list>

using namespace overwinter;

namespace {

Sky sky_with(double zenith_deg, double azimuth_deg, double beam, double diffuse) {
  Sky sky;
  sky.sun_zenith = zenith_deg * units::degree;
  sky.sun_azimuth = azimuth_deg * units::degree;
  sky.beam_normal = Irradiance{beam};
  sky.diffuse_horizontal = Irradiance{diffuse};
  sky.global_horizontal = Irradiance{diffuse + beam * std::max(0.0, std::cos(zenith_deg * pi / 180))};
  sky.extraterrestrial_normal = Irradiance{1361};
  return sky;
}

Plane facing(double tilt_deg, double azimuth_deg) { return {tilt_deg * units::degree, azimuth_deg * units::degree}; }

constexpr SkyModel models[] = {SkyModel::isotropic, SkyModel::hay_davies};

}  // namespace

TEST_CASE("a horizontal plane receives the horizontal irradiance, at every height of the sun") {
  for (const SkyModel model : models) {
    for (const double zenith : {0.0, 40.0, 84.0, 86.0, 89.5, 89.999}) {
      const Sky sky = sky_with(zenith, 130, 300, 80);
      CHECK(plane_irradiance(sky, facing(0, 77), model).total().si() ==
            doctest::Approx(sky.global_horizontal.si()).epsilon(1e-12));
    }
  }
}

TEST_CASE("a plane facing the sun receives the whole beam, one facing away none") {
  const Sky sky = sky_with(60, 150, 500, 100);
  for (const SkyModel model : models) {
    CHECK(plane_irradiance(sky, facing(60, 150), model).beam.si() == doctest::Approx(500));
    CHECK(plane_irradiance(sky, facing(90, 330), model).beam.si() == 0);
  }
}

TEST_CASE("azimuths count clockwise from north") {
  const Sky morning = sky_with(70, 100, 500, 50);
  const double east = plane_irradiance(morning, facing(90, 90), SkyModel::isotropic).beam.si();
  const double west = plane_irradiance(morning, facing(90, 270), SkyModel::isotropic).beam.si();
  CHECK(east > 400);
  CHECK(west == 0);
}

TEST_CASE("without beam both models are the same isotropic sky") {
  const Sky sky = sky_with(75, 200, 0, 120);
  const PlaneIrradiance a = plane_irradiance(sky, facing(65, 180), SkyModel::isotropic);
  const PlaneIrradiance b = plane_irradiance(sky, facing(65, 180), SkyModel::hay_davies);
  CHECK(a.sky.si() == b.sky.si());
  CHECK(a.ground.si() == b.ground.si());
}

TEST_CASE("the circumsolar part stays finite while the sun rises") {
  for (double zenith = 85; zenith < 95; zenith += 0.01) {
    const Sky sky = sky_with(zenith, 180, 600, 50);
    const double diffuse = plane_irradiance(sky, facing(90, 180), SkyModel::hay_davies).sky.si();
    CHECK(std::isfinite(diffuse));
    CHECK(diffuse <= 50 * (0.5 + 600.0 / 1361 / 0.08715));
  }
  Sky before_any_light = sky_with(89, 90, 0, 0);
  before_any_light.extraterrestrial_normal = Irradiance{};
  CHECK(plane_irradiance(before_any_light, facing(90, 90), SkyModel::hay_davies).total().si() == 0);
}

TEST_CASE("no beam comes from below the horizon") {
  CHECK(plane_irradiance(sky_with(91, 180, 100, 10), facing(90, 180), SkyModel::hay_davies).beam.si() == 0);
}

TEST_CASE("the ground reflects by its albedo into what the plane sees of it") {
  Sky sky = sky_with(60, 180, 400, 100);
  sky.albedo = 0.6;
  CHECK(plane_irradiance(sky, facing(0, 0), SkyModel::isotropic).ground.si() == 0);
  CHECK(plane_irradiance(sky, facing(90, 0), SkyModel::isotropic).ground.si() == doctest::Approx(300 * 0.6 / 2));
  CHECK(plane_irradiance(sky, facing(180, 0), SkyModel::isotropic).ground.si() == doctest::Approx(300 * 0.6));
}

TEST_CASE("the incidence modifier falls from one to nothing") {
  CHECK(incidence_modifier(1, 0.05) == 1);
  CHECK(incidence_modifier(0.5, 0.05) == doctest::Approx(0.95));  // 60 deg: 1 - b0
  CHECK(incidence_modifier(0.05 / 1.05, 0.05) == doctest::Approx(0));
  CHECK(incidence_modifier(1e-9, 0.05) == 0);
  CHECK(incidence_modifier(-0.3, 0.05) == 0);
  CHECK(incidence_modifier(0.3, 0) == 1);
}
