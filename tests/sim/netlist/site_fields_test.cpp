#include "sim/netlist/site_fields.hpp"

#include <doctest/doctest.h>

#include "sim/netlist/binder.hpp"
#include "sim/site.hpp"

using namespace overwinter;

namespace {

Site bound(const std::string& text, Faults& faults) {
  Site site;
  const auto d = Document::parse("a.yaml", text, faults);
  WrittenValues written;
  collect(site_fields(), {}, "site", *d, d->root(), written, faults);
  bind_fields(site_fields(), written, &site, faults);
  return site;
}

}  // namespace

TEST_CASE("a site in SI") {
  Faults faults;
  const Site site = bound("latitude: -45 deg\nlongitude: 180 deg\nelevation: 0.4 km\nutc_offset: -3.5 h\n", faults);
  CHECK(faults.empty());
  CHECK(site.latitude.si() == doctest::Approx(-pi / 4).epsilon(1e-15));
  CHECK(site.longitude.si() == doctest::Approx(pi).epsilon(1e-15));
  CHECK(site.elevation.si() == 400);
  CHECK(site.utc_offset.si() == -12600);
  CHECK(site.albedo == 0.2);
}

TEST_CASE("limits of a site") {
  Faults faults;
  bound("latitude: 90.1 deg\nlongitude: -180.1 deg\nelevation: 10 km\nutc_offset: 15 h\nalbedo: 120 %\n", faults);
  CHECK(faults.size() == 5);
}
