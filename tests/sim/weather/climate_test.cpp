#include "sim/weather/climate.hpp"

#include <doctest/doctest.h>

#include <fstream>
#include <iterator>
#include <string>

#include "sim/input_error.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

std::string upland_bog_file() { return OVERWINTER_SOURCE "/tools/weather_maker/upland-bog.yaml"; }

/// The faults of the committed climate file after `from` was replaced by `to` in it.
std::vector<Fault> faults_after(const std::string& from, const std::string& to) {
  std::ifstream in(upland_bog_file(), std::ios::binary);
  std::string text(std::istreambuf_iterator<char>(in), {});
  const std::size_t at = text.find(from);
  REQUIRE(at != std::string::npos);
  text.replace(at, from.size(), to);
  const test::Scratch scratch;
  std::vector<Fault> faults;
  try {
    read_climate(scratch.write("changed.yaml", text));
  } catch (const InputError& error) {
    faults = error.faults();
  }
  return faults;
}

}  // namespace

TEST_CASE("a climate file is read with its units") {
  const Climate climate = read_climate(upland_bog_file());
  CHECK(climate.place == "Invented upland peat bog");
  CHECK(climate.site.latitude / units::degree == doctest::Approx(56));
  CHECK(climate.site.longitude / units::degree == doctest::Approx(-5));
  CHECK(climate.site.elevation.si() == 400);
  CHECK(climate.site.utc_offset.si() == 0);
  CHECK(climate.clearness[11] == 0.25);
  CHECK(climate.air[0] == doctest::Approx(274.75));
  CHECK(climate.daily_range[3] == 7);
  CHECK(climate.day_spread[0] == 3.6);
  CHECK(climate.clear_day_effect[0] == -0.6);
  CHECK(climate.dull_spell.si() == 7 * 86400);
  CHECK(climate.settled_spell.si() == 14 * 86400);
}

TEST_CASE("faults of a climate file stand where they are") {
  const auto one = [](const std::string& from, const std::string& to) {
    const std::vector<Fault> faults = faults_after(from, to);
    REQUIRE(faults.size() == 1);
    return faults.front();
  };
  CHECK(faults_after("dull_factor", "dull_factor").empty());
  CHECK(one("0.27  0.32", "0.27").message == "clearness has 11 numbers, 12 are needed");
  CHECK(one("0.27  0.32", "0.27  1.32").place.column == 25);
  CHECK(one("elevation: 400 m", "elevation: [400 m]").message == "elevation cannot be a list");
  CHECK(one("place: Invented upland peat bog", "place: a, b").message == "place is not a name");
  CHECK(one("elevation: 400 m\n", "").message == "the climate file lacks elevation");
  CHECK(one("elevation: 400 m", "elevation: 400 kg").place.line == 6);
  const std::vector<Fault> misspelt = faults_after("dull_factor", "dul_factor");
  REQUIRE(misspelt.size() == 2);
  CHECK(misspelt[0].message == "the climate file lacks dull_factor");
  CHECK(misspelt[1].message == "a climate file has no key 'dul_factor'");
  CHECK(misspelt[1].suggestion == "dull_factor");
}

TEST_CASE("a climate file that is not there is refused") {
  CHECK_THROWS_AS(read_climate("no-such-climate.yaml"), InputError);
}
