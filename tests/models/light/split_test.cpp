#include "models/light/split.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <initializer_list>

using namespace overwinter;

namespace {

IntervalSun sun_at(double zenith_deg, double lit_fraction = 1) {
  IntervalSun sun;
  sun.sun.zenith = sun.sun.zenith_airless = zenith_deg * units::degree;
  sun.lit_fraction = lit_fraction;
  return sun;
}

}  // namespace

// The formula jumps by 2.7e-4 at both seams as published; more would be a wrong coefficient.
TEST_CASE("the diffuse fraction's pieces meet and it falls from one to 0.165") {
  for (const double seam : {0.22, 0.80}) {
    CHECK(std::abs(erbs_diffuse_fraction(seam) - erbs_diffuse_fraction(seam + 1e-9)) < 5e-4);
  }
  CHECK(erbs_diffuse_fraction(0) == 1);
  CHECK(erbs_diffuse_fraction(2) == 0.165);
}

TEST_CASE("extraterrestrial irradiance follows the inverse square of the distance") {
  CHECK(extraterrestrial_normal(1).si() == 1361);
  CHECK(extraterrestrial_normal(2).si() == doctest::Approx(340.25));
}

TEST_CASE("a split closes the horizontal balance") {
  for (const double zenith : {10.0, 45.0, 70.0, 85.0, 89.4}) {
    for (const double lit : {1.0, 0.3, 0.01}) {
      for (const double global : {0.0, 1.0, 40.0, 400.0, 1200.0}) {
        CAPTURE(zenith);
        CAPTURE(lit);
        CAPTURE(global);
        const IntervalSun sun = sun_at(zenith, lit);
        const Split split = split_global(Irradiance{global}, sun);
        CHECK(split.beam_normal.si() * cos(sun.sun.zenith) + split.diffuse_horizontal.si() == doctest::Approx(global));
        CHECK(split.beam_normal.si() >= 0);
        CHECK(split.beam_normal.si() <= 1361 * lit);
        CHECK(split.diffuse_horizontal.si() >= 0);
      }
    }
  }
}

TEST_CASE("the clearness index counts only the lit part of the hour") {
  // Half an hour of sun at 60 deg could bring 1361 * 0.5 * 0.5 W/m2; half of that reaching makes kt 0.5.
  const Split split = split_global(Irradiance{1361.0 / 8}, sun_at(60, 0.5));
  CHECK(split.diffuse_horizontal.si() == doctest::Approx(1361.0 / 8 * erbs_diffuse_fraction(0.5)));
}

TEST_CASE("light without a sun is all diffuse") {
  const Split split = split_global(Irradiance{7}, sun_at(92, 0));
  CHECK(split.beam_normal.si() == 0);
  CHECK(split.diffuse_horizontal.si() == 7);
}

TEST_CASE("a given diffuse part is kept, unless it is more than all") {
  const Split split = split_with_diffuse(Irradiance{500}, Irradiance{200}, sun_at(60));
  CHECK(split.diffuse_horizontal.si() == doctest::Approx(200));
  CHECK(split.beam_normal.si() == doctest::Approx(600));
  const Split dull = split_with_diffuse(Irradiance{50}, Irradiance{60}, sun_at(60));
  CHECK(dull.diffuse_horizontal.si() == 50);
  CHECK(dull.beam_normal.si() == 0);
}

// As published the formulas jump at their seams, the second by 0.0152. The numbers are the polynomials' at their break
// points, worked out from the coefficients as Duffie & Beckman 2020 print them in (2.11.1).
TEST_CASE("the diffuse fraction of a day at the break points of the published formulas") {
  const Angle winter = 81.4 * units::degree, summer = 81.5 * units::degree;
  CHECK(erbs_daily_diffuse_fraction(0, winter) == 1);
  CHECK(erbs_daily_diffuse_fraction(0, summer) == 1);
  CHECK(erbs_daily_diffuse_fraction(0.714999, winter) == doctest::Approx(0.14226).epsilon(1e-4));
  CHECK(erbs_daily_diffuse_fraction(0.715, winter) == 0.143);
  CHECK(erbs_daily_diffuse_fraction(0.721999, summer) == doctest::Approx(0.19018).epsilon(1e-4));
  CHECK(erbs_daily_diffuse_fraction(0.722, summer) == 0.175);
}

// Duffie & Beckman 2020, example 2.11.1 (from memory): St. Louis, 3 September, clearness index 0.69: 0.26.
TEST_CASE("the diffuse fraction of a day in a textbook's example") {
  CHECK(std::abs(erbs_daily_diffuse_fraction(0.69, 96 * units::degree) - 0.26) < 0.005);
}
