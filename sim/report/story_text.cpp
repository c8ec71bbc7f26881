#include "sim/report/story_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/netlist/units_text.hpp"
#include "sim/number_text.hpp"
#include "sim/report/texts.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

constexpr double joules_per_kwh = 3.6e6, coulombs_per_ah = 3600;
constexpr double smallest_user = 0.02;  // of what is drawn, that is named
constexpr double told_path = 0.005;     // ohm
constexpr double near_limit = 0.8;      // of the most that a source can give

/// Three significant digits, in a unit that leaves one to three before the point.
std::string three(double value, const std::string& unit) {
  const double size = std::abs(value);
  const char* prefix = size < 1e-15 ? "" : size < 0.9995e-3 ? "u" : size < 0.9995 ? "m" : "";
  const double factor = *prefix == 'u' ? 1e6 : *prefix == 'm' ? 1e3 : 1;
  return fmt::format("{:.3g} {}{}", value * factor + 0.0, prefix, unit);
}

std::string ohms(double r) { return fmt::format("{:.2f} ohm", r); }

double source_resistance(const Snapshot& s) {
  return s.series + (s.crossed && s.crossed->path ? *s.crossed->path : 0.0);
}

/// E^2 / (4 R): the most that can be drawn through this resistance.
double most(const Snapshot& s) { return s.inner_voltage() * s.inner_voltage() / (4 * source_resistance(s)); }

std::string light_text(const LightBefore& light) {
  const std::string days = how_many(std::to_string(light.days), "day");
  const std::string share =
      fmt::format("{} of the light of their months' median days, {:.2f} in place of {:.2f} kWh/m2 a day",
                  percent_text(light.share(), 0), light.light / joules_per_kwh, light.median / joules_per_kwh);
  return light.dark ? "a dark spell of " + days + " begins: " + share
                    : "no dark spell: these " + days + " before it have " + share;
}

std::string charge_text(const Story& story) {
  const auto a_day = [&](double coulombs) { return three(coulombs / coulombs_per_ah / story.days_since, "Ah"); };
  std::string text = "the cell is at " + percent_text(*story.charge_before);
  if (story.days_since >= 1) {
    text += fmt::format("; from here to the brown-out {} a day go out of it and {} a day come in",
                        a_day(story.charge_out), a_day(story.charge_in));
  }
  return text;
}

std::string cell_text(const Snapshot& s) {
  std::string text = fmt::format("the cell is at {} and {} degC: {:.2f} V behind {} of its own", percent_text(s.charge),
                                 fixed_text(s.temperature - zero_celsius.si(), 1), s.inner_voltage(), ohms(s.series));
  if (s.crossed && s.crossed->path && *s.crossed->path >= told_path)
    text += fmt::format(" and {} on the way to {}", ohms(*s.crossed->path), s.part);
  return text;
}

std::string drawn_text(const Snapshot& s) {
  const std::string when = s.doing.empty() ? ""
                           : s.in_phase    ? "in phase " + s.doing + " "
                                           : "with the controller " + s.doing + " ";
  if (s.current <= 0) return when + "nothing is drawn from it";
  std::string text = fmt::format("{}{} are drawn from it, {} at {:.2f} V", when, three(s.drawn(), "W"),
                                 three(s.current, "A"), s.drawn() / s.current);
  std::vector<std::string> users;
  for (const auto& [part, watt] : s.users) {
    if (watt >= smallest_user * s.drawn()) users.push_back(part + " " + three(watt, "W"));
  }
  if (!users.empty()) text += ", of which " + listed(users);
  if (s.drawn() > near_limit * most(s)) {
    text += fmt::format("; through this resistance {} at most", three(most(s), "W"));
  }
  return text;
}

std::string event_text(const std::string& part, const std::string& event) {
  return part.empty() ? event : part + ": " + event;
}

std::string crossed_text(const Snapshot& s) {
  return fmt::format("{:.2f} V left for {}, whose threshold is {:.2f} V: {}", s.crossed->reached, s.part,
                     s.crossed->limit, s.event);
}

std::string after_text(const Story& story, const BrownOut& b, const Facts& episode) {
  std::string text = b.recovered ? "a wake is completed again after " +
                                       duration_text(static_cast<double>(b.end - b.begin) / ticks_per_second)
                                 : "no wake has been completed when the span ends";
  if (b.recovered && story.charge_back) text += ", the cell at " + percent_text(*story.charge_back);
  if (b.attempts > 0) text += "; " + how_many(std::to_string(b.attempts), "further attempt") + " came to nothing";
  if (story.energy_in_vain > 0) text += "; " + energy_text(story.energy_in_vain) + " were used up in starts in vain";
  for (const ChainLink& cut : story.blocked) {
    text += fmt::format("; {} does not feed since {} ({})", cut.part, iso_time(cut.time), cut.event);
  }
  if (b.recovered && b.outcome == Outcome::recovered) return text;
  const std::string sunny = sunny_days_of(episode);
  return sunny.empty() ? text : text + "; " + sunny;
}

Facts or_null(const std::optional<double>& value) { return value ? Facts(*value) : Facts(nullptr); }

Facts moment_json(const Snapshot& s) {
  Facts users = Facts::object();
  for (const auto& [part, watt] : s.users) users[part] = watt;
  Facts j = {{"time", iso_time(s.time, 9)},
             {"part", s.part},
             {"event", s.event},
             {"charge", s.charge},
             {"cell_temperature_degC", s.temperature - zero_celsius.si()},
             {"inner_voltage_V", s.inner_voltage()},
             {"series_resistance_ohm", s.series},
             {"path_resistance_ohm", or_null(s.crossed ? s.crossed->path : std::nullopt)},
             {"current_A", s.current},
             {"drawn_W", s.drawn()},
             {"controller", s.doing},
             {"used_W", users}};
  j["threshold"] =
      s.crossed ? Facts({{"name", s.crossed->margin}, {"limit_V", s.crossed->limit}, {"reached_V", s.crossed->reached}})
                : Facts(nullptr);
  return j;
}

}  // namespace

Facts story_json(const Story& story, const BrownOut& b, const Facts& episode, Tick begin) {
  std::vector<std::pair<Tick, std::string>> chain;
  const auto link = [&chain](Tick time, const std::string& text) { chain.emplace_back(time, text); };
  const Tick since = begin + static_cast<Tick>(story.light ? story.light->first : 0) * ticks_per_day;
  if (story.light) link(since, light_text(*story.light));
  if (story.charge_before) link(since, charge_text(story));
  const std::optional<Snapshot>& moment = story.moment;
  const bool told_first = moment && moment->part.empty() && moment->event.empty();
  const auto circumstances = [&] {
    link(moment->time, cell_text(*moment));
    link(moment->time, drawn_text(*moment));
  };
  if (told_first) circumstances();
  for (const ChainLink& l : b.chain) {
    const bool here =
        moment && !told_first && moment->time == l.time && moment->part == l.part && moment->event == l.event;
    if (here) circumstances();
    link(l.time, here && moment->crossed ? crossed_text(*moment) : event_text(l.part, l.event));
    if (&l == &b.chain.front() && !b.cause_text.empty()) link(l.time, b.cause_id + ": " + b.cause_text);
  }
  link(b.end, after_text(story, b, episode));
  std::stable_sort(chain.begin(), chain.end(), [](const auto& x, const auto& y) { return x.first < y.first; });
  Facts links = Facts::array();
  for (const auto& [time, text] : chain) links.push_back({{"time", iso_time(time)}, {"text", text}});

  Facts j;
  j["light"] = nullptr;
  if (story.light) {
    j["light"] = {{"from", iso_time(since)},
                  {"days", story.light->days},
                  {"share", story.light->share()},
                  {"kWh_m2_a_day", story.light->light / joules_per_kwh},
                  {"median_kWh_m2_a_day", story.light->median / joules_per_kwh},
                  {"dark_spell", story.light->dark}};
  }
  j["charge_before"] = or_null(story.charge_before);
  j["charge_in_Ah"] = story.charge_in / coulombs_per_ah;
  j["charge_out_Ah"] = story.charge_out / coulombs_per_ah;
  j["moment"] = moment ? moment_json(*moment) : Facts(nullptr);
  j["energy_in_vain_J"] = story.energy_in_vain;
  j["charge_back"] = or_null(story.charge_back);
  j["links"] = std::move(links);
  return j;
}

}  // namespace overwinter
