#include "sim/weather/pieces.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <initializer_list>
#include <limits>

#include "models/light/split.hpp"

using namespace overwinter;

namespace {

constexpr double none = std::numeric_limits<double>::quiet_NaN();
constexpr Tick minute = 60 * ticks_per_second, hour = 60 * minute;
constexpr Tick midsummer = 19'894 * ticks_per_day;  // 2024-06-20
constexpr Tick midwinter = 20'078 * ticks_per_day;  // 2024-12-21

Observer at_latitude(double degrees) {
  Observer observer;
  observer.latitude = degrees * units::degree;
  return observer;
}

struct Means {
  double global = 0, beam = 0, diffuse = 0;
};

Means means(const std::vector<Piece>& pieces) {
  Means m;
  const auto whole = static_cast<double>(pieces.back().end - pieces.front().begin);
  for (const Piece& p : pieces) {
    const double share = static_cast<double>(p.end - p.begin) / whole;
    m.global += p.global * share;
    m.beam += p.beam * share;
    m.diffuse += p.diffuse * share;
  }
  return m;
}

}  // namespace

TEST_CASE("pieces cover their row, none longer than an hour, and keep the means of its light") {
  for (const Tick step : {minute, 10 * minute, hour, 90 * minute, 7 * minute * 61, 6 * hour, ticks_per_day}) {
    for (const double latitude : {0.0, 56.0, 70.0, -75.0}) {
      for (const Tick begin : {midsummer, midwinter, midwinter + 10 * hour}) {
        CAPTURE(step / minute);
        CAPTURE(latitude);
        const std::vector<Piece> pieces = cut({5, 100, 150, 60}, begin, step, at_latitude(latitude));
        CHECK(pieces.size() == static_cast<std::size_t>((step + hour - 1) / hour));
        Tick reached = begin;
        for (const Piece& p : pieces) {
          CHECK(p.begin == reached);
          CHECK(p.end - p.begin <= hour);
          reached = p.end;
        }
        CHECK(reached == begin + step);
        const Means m = means(pieces);
        CHECK(m.global == doctest::Approx(100).epsilon(1e-12));
        CHECK(m.beam == doctest::Approx(150).epsilon(1e-12));
        CHECK(m.diffuse == doctest::Approx(60).epsilon(1e-12));
      }
    }
  }
}

// The closed form of (1): r = pi/24 (cos w - cos ws)/(sin ws - ws cos ws) of the day's light in the hour around the
// hour angle w (Liu & Jordan 1960; Duffie & Beckman 2020, (2.13.4)). On the equator in its equinox ws is 90 deg to
// 0.1 deg, the equation of time known; there the hours around noon get 12.9 %, those next to them 12.1 %.
TEST_CASE("a day's light is shared among its hours as the published ratio has it") {
  const Tick equinox = 19'802 * ticks_per_day;  // 2024-03-20
  const std::vector<Piece> pieces = cut({20, 250, 300, 100}, equinox, ticks_per_day, at_latitude(0));
  REQUIRE(pieces.size() == 24);
  for (std::size_t i = 7; i < 17; ++i) {
    const double w = sun_position(pieces[i].begin + hour / 2, at_latitude(0)).hour_angle.si(), ws = pi / 2;
    const double ratio = pi / 24 * (std::cos(w) - std::cos(ws)) / (std::sin(ws) - ws * std::cos(ws));
    CAPTURE(i);
    CHECK(std::abs(pieces[i].diffuse / (100 * 24) - ratio) < 0.0005);
    CHECK(pieces[i].global / pieces[i].diffuse == doctest::Approx(2.5));
    CHECK(pieces[i].beam == doctest::Approx(pieces[12].beam));
  }
  CHECK(pieces[0].global == 0);
  CHECK(pieces[23].global == 0);
}

TEST_CASE("a day of global light alone has the diffuse share of daily sums, a shorter row is left to be split") {
  const Observer here = at_latitude(56);
  double outside = 0, lit = 0;
  for (Tick t = midwinter; t < midwinter + ticks_per_day; t += hour) {
    const IntervalSun sun = interval_sun(t, t + hour, here);
    outside += extraterrestrial_horizontal(sun).si() / 24;
    lit += sun.lit_fraction / 24;
  }
  const double global = 0.5 * outside;
  const std::vector<Piece> day = cut({5, global, none, none}, midwinter, ticks_per_day, here);
  CHECK(means(day).diffuse / global == doctest::Approx(erbs_daily_diffuse_fraction(0.5, 180 * lit * units::degree)));
  // The sun sets at cos ws = -tan latitude tan declination (Duffie & Beckman 2020, (1.6.10)): 50 deg; the parallax and
  // the hours' ends leave some tenths.
  CHECK(std::abs(180 * lit - std::acos(std::tan(56 * pi / 180) * std::tan(23.44 * pi / 180)) * 180 / pi) < 0.3);
  for (const Piece& p : cut({5, global, none, none}, midwinter, ticks_per_day / 2, here)) CHECK(std::isnan(p.diffuse));
  for (const Piece& p : day) CHECK(std::isnan(p.beam));
}

TEST_CASE("global light is worked out from direct and diffuse light") {
  const Observer here = at_latitude(56);
  const std::vector<Piece> noon = cut({5, none, 400, 50}, midwinter + 12 * hour, 10 * minute, here);
  REQUIRE(noon.size() == 1);
  CHECK(noon[0].global == doctest::Approx(50 + 400 * cos(noon[0].sun.sun.zenith)));
  const std::vector<Piece> night = cut({5, none, 0, 2}, midwinter, hour, here);
  CHECK(night[0].global == 2);
}

TEST_CASE("light in a row without sun is spread evenly") {
  for (const Piece& p : cut({-20, 3, none, none}, midwinter, ticks_per_day, at_latitude(75))) CHECK(p.global == 3);
}
