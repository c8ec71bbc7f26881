#include "sim/weather/review.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <iterator>

#include "models/light/clear_sky.hpp"
#include "models/light/split.hpp"
#include "models/light/transposition.hpp"
#include "models/sources/panel.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/review/review.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr double notable_loss = 0.15;
constexpr Angle near_equator = 10 * units::degree;
constexpr Angle east_or_west = 10 * units::degree;  // to either side
constexpr Angle flat = 5 * units::degree;
constexpr double most_hours_off = 2;
constexpr std::int64_t sampled_days = 73;

double degrees(Angle a) { return a / units::degree; }

/// Clockwise from north, 0 to below 360 deg.
Angle turned(Angle azimuth) {
  const double d = std::fmod(degrees(azimuth), 360.0);
  return (d < 0 ? d + 360 : d) * units::degree;
}

/// Facing the other side of the east-west line.
Plane mirrored(const Plane& plane) { return {plane.tilt, turned(180 * units::degree - plane.azimuth)}; }

std::string direction(Angle azimuth) {
  constexpr std::array<const char*, 8> names{"north", "northeast", "east", "southeast",
                                             "south", "southwest", "west", "northwest"};
  return names[static_cast<std::size_t>(std::lround(degrees(turned(azimuth)) / 45)) % 8];
}

std::string degrees_text(Angle a) { return fmt::format("{:g} deg", std::round(degrees(a) * 10) / 10); }

/// Light on the planes of panels, weighted by their rated power, and on the mirrored planes; kWh/m2.
struct Light {
  double as_is = 0, mirrored = 0;
  double loss() const { return mirrored > 0 ? 1 - as_is / mirrored : 0; }
};

class PanelReview {
 public:
  PanelReview(const Scenario& s, const Weather& w) : weather_(w) {
    for (const ScenarioPart& part : s.parts) {
      if (const Panel* panel = as<Panel>(part)) panels_.push_back({part.name, panel, 0});
    }
    Power all{};
    for (const One& one : panels_) all += one.panel->rated_power();
    for (One& one : panels_) one.weight = one.panel->rated_power() / all;
  }

  std::vector<DesignFinding> read() const {
    const Angle latitude = weather_.site().latitude;
    if (panels_.empty() || (latitude < near_equator && latitude > -near_equator)) return {};
    if (!std::all_of(panels_.begin(), panels_.end(), [this](const One& one) { return faces_away(one.panel); })) {
      return {};
    }
    const Light clear = under_clear_sky();
    if (clear.loss() < notable_loss) return {};
    const Light given = of_weather();
    const bool dull = given.loss() < notable_loss;
    const Light& told = dull ? clear : given;
    const bool several = panels_.size() > 1;
    std::vector<std::string> names, as_they_are, cures;
    for (const One& one : panels_) {
      const Plane other = mirrored(plane(one.panel));
      names.push_back(one.name);
      as_they_are.push_back(degrees_text(one.panel->parameters().azimuth) + " is " +
                            direction(one.panel->parameters().azimuth));
      cures.push_back("azimuth: " + degrees_text(other.azimuth) + (several ? " of " + one.name : "") + ", " +
                      direction(other.azimuth));
    }
    std::string text = listed(names) + (several ? " face" : " faces") + " away from the equator (" +
                       (several ? "azimuths: " : "azimuth ") + listed(as_they_are) + ", latitude " +
                       degrees_text(latitude) + "): ";
    text += fmt::format("{}{} {} {} kWh/m2 over the span, in place of {} facing {}", dull ? "under a clear sky " : "",
                        several ? "their planes" : "its plane", several ? "get" : "gets", amount(told.as_is),
                        amount(told.mirrored), latitude > Angle{} ? "south" : "north");
    return {{"panel-away-from-equator", names, text,
             listed(cures) + " (0 deg is north, 90 deg east: clockwise, on either half of the earth)"}};
  }

 private:
  struct One {
    std::string name;
    const Panel* panel;
    double weight;
  };

  static Plane plane(const Panel* panel) { return {panel->parameters().tilt, panel->parameters().azimuth}; }

  bool faces_away(const Panel* panel) const {
    const Plane p = plane(panel);
    if (p.tilt < flat || p.tilt > 90 * units::degree) return false;
    const Angle equator = weather_.site().latitude > Angle{} ? 180 * units::degree : Angle{};
    return cos(p.azimuth - equator) < -sin(east_or_west);
  }

  void add(const Sky& sky, Tick length, Light& sum) const {
    const double kilowatt_hours = static_cast<double>(length) / ticks_per_second / 3.6e6;
    for (const One& one : panels_) {
      const SkyModel model = one.panel->parameters().sky;
      const Plane p = plane(one.panel);
      sum.as_is += one.weight * kilowatt_hours * plane_irradiance(sky, p, model).total().si();
      sum.mirrored += one.weight * kilowatt_hours * plane_irradiance(sky, mirrored(p), model).total().si();
    }
  }

  Light of_weather() const {
    Light sum;
    for (const WeatherInterval& i : weather_.intervals()) add(i.ambient.sky, i.end - i.begin, sum);
    return sum;
  }

  /// Hours of evenly chosen days of the span, each for as many.
  Light under_clear_sky() const {
    const Observer observer = observer_at(weather_.site());
    const Tick hour = 3600 * ticks_per_second;
    const std::int64_t days = (weather_.end() - weather_.begin()) / ticks_per_day;
    const std::int64_t stride = (days + sampled_days - 1) / sampled_days;
    Light sum;
    for (std::int64_t day = 0; day < days; day += stride) {
      const Tick begin = weather_.begin() + day * ticks_per_day;
      const std::int64_t stands_for = std::min(stride, days - day);
      for (Tick t = begin; t < begin + ticks_per_day; t += hour) {
        const IntervalSun sun = interval_sun(t, t + hour, observer);
        if (sun.lit_fraction <= 0) continue;
        Sky sky;
        sky.global_horizontal = sun.lit_fraction * clear_sky(sun.sun.zenith);
        const Split split = split_global(sky.global_horizontal, sun);
        sky.beam_normal = split.beam_normal;
        sky.diffuse_horizontal = split.diffuse_horizontal;
        sky.extraterrestrial_normal = extraterrestrial_normal(sun.sun.distance);
        sky.sun_zenith = sun.sun.zenith;
        sky.sun_azimuth = sun.sun.azimuth;
        sky.albedo = weather_.site().albedo;
        add(sky, hour * stands_for, sum);
      }
    }
    return sum;
  }

  static std::string amount(double kilowatt_hours) {
    return kilowatt_hours < 100 ? fmt::format("{:.2g}", kilowatt_hours) : fmt::format("{:.0f}", kilowatt_hours);
  }

  const Weather& weather_;
  std::vector<One> panels_;
};

}  // namespace

std::vector<DesignFinding> review_panels(const Scenario& s, const Weather& w) { return PanelReview(s, w).read(); }

std::vector<DesignFinding> review_site(const Site& site) {
  const double longitude = degrees(site.longitude), offset = site.utc_offset / units::hour;
  const double by_sun = longitude / 15;
  const double off = std::remainder(offset - by_sun, 24);
  if (std::abs(off) <= most_hours_off) return {};
  std::string text = fmt::format(
      "the site's utc_offset of {:g} h does not go with its longitude of {:g} deg, whose own time is {:.1f} h from "
      "UTC: "
      "noon by the clock is {} {} the sun's",
      offset, longitude, by_sun, duration_text(std::abs(off) * 3600), off > 0 ? "before" : "after");
  std::string cure =
      fmt::format("utc_offset: {:g} h, or what is standard time there", std::round(by_sun) + 0.0);  // no -0
  if (offset == 0) {
    text += "; days and local times of the results are then UTC's";
    cure += "; leave it if the weather's times are in UTC and days of UTC are meant";
  } else if (std::abs(std::remainder(-offset - by_sun, 24)) <= most_hours_off) {
    text += "; with the other sign it would: east of Greenwich both are positive, west of it both negative";
    cure = fmt::format("utc_offset: {:g} h or longitude: {:g} deg, whichever has the wrong sign", -offset, -longitude);
  }
  return {{"site-offset-far-from-longitude", {"site"}, text, cure}};
}

std::vector<DesignFinding> review(const Scenario& scenario, const Weather& weather) {
  std::vector<DesignFinding> all = review(scenario);
  for (std::vector<DesignFinding> found : {review_panels(scenario, weather), review_site(weather.site()),
                                           std::vector<DesignFinding>(weather.findings())}) {
    all.insert(all.end(), std::make_move_iterator(found.begin()), std::make_move_iterator(found.end()));
  }
  return all;
}

}  // namespace overwinter
