#include "sim/report/charts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "sim/netlist/units_text.hpp"
#include "sim/number_text.hpp"

namespace overwinter {

namespace {

constexpr Tick ticks_per_ms = ticks_per_second / 1000;
constexpr double drawable =
    1e9;  // beyond it a value is no measurement, and its multiples leave a double's whole numbers

/// A column of the data: its name there, how finely it is kept, and how it is told.
struct Column {
  const char* name;
  std::vector<double> ReportSeries::*values;
  double scale;  ///< steps per unit
  double shown;  ///< factor from the value to what is told
  const char* unit;
  int digits;
  const char* what;  ///< begins the description
  /// Keys of the whole run's extremes in the summary's `cell`: PREFIX_min SUFFIX, PREFIX_min_time and so on. Null where
  /// only the values drawn are known.
  const char *prefix, *suffix;
};

const Column columns[] = {
    {"voltage", &ReportSeries::voltage, 1e4, 1, "V", 3, "Cell voltage", "voltage", "_V"},
    {"charge", &ReportSeries::charge, 1e5, 100, "%", 1, "State of charge", "soc", ""},
    {"light", &ReportSeries::light, 10, 1, "W/m\u00B2", 0, "Light", nullptr, nullptr},
    {"cell", &ReportSeries::cell_temperature, 100, 1, "\u00B0C", 1, "Cell temperature", "temperature", "_degC"},
    {"air", &ReportSeries::air, 100, 1, "\u00B0C", 1, "Air temperature", nullptr, nullptr},
};

bool usable(double value) { return std::abs(value) <= drawable; }

bool has_values(const ReportSeries& s, const Column& c) {
  const std::vector<double>& values = s.*c.values;
  return std::any_of(values.begin(), values.end(), usable);
}

bool has_wakes(const Facts& summary, const ReportSeries& s) {
  return (member(summary, "service").is_object() || !s.wakes.empty()) && !daily_wakes(s).count.empty();
}

/// An extreme of the whole run, which may lie between the values drawn.
struct Extreme {
  double value;
  Tick at;
};

std::optional<Extreme> extreme_of(const Facts& cell, const Column& c, const std::string& which) {
  if (!c.prefix) return std::nullopt;
  const std::string key = std::string(c.prefix) + "_" + which;
  const std::optional<double> value = number_of(member(cell, (key + c.suffix).c_str()));
  const std::optional<Tick> at = tick_of(text_of(member(cell, (key + "_time").c_str())));
  return value && at ? std::optional<Extreme>({*value, *at}) : std::nullopt;
}

/// "Cell voltage: lowest 3.708 V at 2025-01-24 12:03, highest ..."; empty without values.
std::string described(const Facts& cell, const ReportSeries& s, const Column& c, const SiteClock& clock) {
  const std::vector<double>& values = s.*c.values;
  std::optional<std::size_t> low, high, last;
  for (std::size_t i = 0; i < values.size(); ++i) {
    if (!usable(values[i])) continue;
    if (!low || values[i] < values[*low]) low = i;
    if (!high || values[i] > values[*high]) high = i;
    last = i;
  }
  if (!last) return {};
  const auto told = [&](const Extreme& e) {
    return fmt::format("{} {} at {}", fixed_text(e.value * c.shown, c.digits), c.unit, clock.minute(e.at));
  };
  const auto drawn = [&](std::size_t i) { return Extreme{values[i], s.time[i]}; };
  return fmt::format("{}: lowest {}, highest {}, last {}.", c.what,
                     told(extreme_of(cell, c, "min").value_or(drawn(*low))),
                     told(extreme_of(cell, c, "max").value_or(drawn(*high))), told(drawn(*last)));
}

std::string wakes_described(const ReportSeries& s, const SiteClock& clock) {
  const DailyWakes days = daily_wakes(s);
  const auto [low, high] = std::minmax_element(days.count.begin(), days.count.end());
  const auto day = [&](auto at) { return clock.day(days.first_day + (at - days.count.begin()) * ticks_per_day); };
  return fmt::format("Completed wakes a day: fewest {} (first on {}), most {} (first on {}), {} in {} days.", *low,
                     day(low), *high, day(high), s.wakes.size(), days.count.size());
}

Html figure_of(const std::string& id, const std::string& title, const std::string& description) {
  return {fmt::format(
      "<figure class=\"chart\">\n<figcaption><h3 id=\"{0}-title\">{1}</h3>\n<p id=\"{0}-text\">{2}</p></figcaption>\n"
      "<p class=\"reading\" id=\"{0}-reading\" aria-hidden=\"true\">&nbsp;</p>\n"
      "<div class=\"plot\" id=\"{0}-plot\" role=\"img\" aria-labelledby=\"{0}-title\" aria-describedby=\"{0}-text\">"
      "</div>\n</figure>\n",
      id, escaped(title).code, with_whole_dates(description).code)};
}

std::string steps_json(const std::vector<double>& values, double scale) {
  std::string json = "[";
  std::int64_t before = 0;
  for (const double value : values) {
    if (json.size() > 1) json += ',';
    if (!usable(value)) {
      json += "null";
      continue;
    }
    const std::int64_t now = std::llround(value * scale);
    json += std::to_string(now - before);
    before = now;
  }
  return json + "]";
}

/// Seconds with up to three decimals between times rounded to milliseconds.
std::string time_json(const std::vector<Tick>& time) {
  std::string json = "[";
  Tick before = time.empty() ? 0 : time.front() / ticks_per_ms;
  for (const Tick t : time) {
    const Tick step = t / ticks_per_ms - before;
    if (json.size() > 1) json += ',';
    json += step % 1000 ? fmt::format("{}.{:03}", step / 1000, step % 1000) : std::to_string(step / 1000);
    before += step;
  }
  return json + "]";
}

std::string milliseconds_json(const std::vector<Tick>& times, Tick offset) {
  std::string json = "[";
  for (const Tick t : times) json += (json.size() > 1 ? "," : "") + std::to_string((t + offset) / ticks_per_ms);
  return json + "]";
}

Tick midnight_before(Tick utc, Tick offset) {
  const Moment moment{utc, offset};
  return utc - moment.time_of_day();
}

}  // namespace

DailyWakes daily_wakes(const ReportSeries& s) {
  const std::vector<Tick>& extent = s.time.empty() ? s.wakes : s.time;
  if (extent.empty()) return {};
  const Tick last = std::max(extent.front(), s.time.empty() ? extent.back() : extent.back() - 1);
  DailyWakes days;
  days.first_day = midnight_before(extent.front(), s.utc_offset);
  days.count.resize(static_cast<std::size_t>((last - days.first_day) / ticks_per_day) + 1);
  const Tick last_day = static_cast<Tick>(days.count.size()) - 1;
  for (const Tick wake : s.wakes) {
    const Tick day = std::clamp((wake - days.first_day) / ticks_per_day, Tick{0}, last_day);
    ++days.count[static_cast<std::size_t>(day)];
  }
  return days;
}

Html chart_figures(const Facts& summary, const ReportSeries& s) {
  const SiteClock clock(s.utc_offset);
  Html figures;
  const auto words = [&](const Column& c) { return described(member(summary, "cell"), s, c, clock); };
  const auto one = [&](const char* id, const char* title, const Column& c) {
    if (has_values(s, c)) figures += figure_of(id, title, words(c));
  };
  one("voltage", "Cell voltage, V", columns[0]);
  one("charge", "State of charge, %", columns[1]);
  one("light", "Light: global on the horizontal, W/m\u00B2", columns[2]);
  if (has_values(s, columns[3]) || has_values(s, columns[4])) {
    const std::string cell = words(columns[3]), air = words(columns[4]);
    figures += figure_of("temperature", "Temperature: cell (solid) and air (dashed), \u00B0C",
                         cell + (cell.empty() || air.empty() ? "" : " ") + air);
  }
  if (has_wakes(summary, s)) {
    figures += figure_of("wakes", "Completed wakes a day, with brown-outs", wakes_described(s, clock));
  }
  return figures;
}

Html drawing_described(const ReportSeries& s) {
  if (s.time.size() < 2) return {};
  const double apart = static_cast<double>(s.time[1] - s.time[0]) / ticks_per_second;
  return {element("p", escaped("The lines join values " + duration_text(apart) +
                               " apart; what is shorter may not show in them. The cell's extremes told in words are "
                               "those of the whole run, as in its table."))
              .code +
          "\n"};
}

Html marks_described(const ReportSeries& s) {
  const SiteClock clock(s.utc_offset);
  constexpr std::size_t listed = 12;
  if (s.brownouts.empty()) return {};
  std::string text = "In every chart a brown-out is a dashed line with a triangle and its number on top:";
  for (std::size_t i = 0; i < s.brownouts.size() && i < listed; ++i)
    text += fmt::format("{} B{} at {}", i ? "," : "", i + 1, clock.minute(s.brownouts[i]));
  if (s.brownouts.size() > listed) text += fmt::format(" and {} more, see their table", s.brownouts.size() - listed);
  return Html{element("p", with_whole_dates(text + ".")).code + "\n"};
}

std::string chart_data(const Facts& summary, const ReportSeries& s) {
  std::string list;
  for (const Column& c : columns) {
    const std::vector<double>& values = s.*c.values;
    if (!values.empty() && values.size() != s.time.size())
      throw std::invalid_argument(
          fmt::format("series {} has {} values for {} times", c.name, values.size(), s.time.size()));
    if (!has_values(s, c)) continue;
    list += fmt::format("{}\n\"{}\":{{\"scale\":{},\"steps\":{}}}", list.empty() ? "" : ",", c.name, c.scale / c.shown,
                        steps_json(values, c.scale));
  }
  const DailyWakes days = has_wakes(summary, s) ? daily_wakes(s) : DailyWakes{};
  std::string counts;
  for (const int n : days.count) counts += (counts.empty() ? "" : ",") + std::to_string(n);
  const Tick start = s.time.empty() ? days.first_day : s.time.front();
  return fmt::format(
      "{{\"start\":{},\n\"time\":{},\n\"columns\":{{{}}},\n\"days\":{{\"first\":{},\"wakes\":[{}]}},\n\"brownouts\":{}}"
      "}",
      start / ticks_per_ms + s.utc_offset / ticks_per_ms, time_json(s.time), list,
      (days.first_day + s.utc_offset) / ticks_per_ms, counts, milliseconds_json(s.brownouts, s.utc_offset));
}

}  // namespace overwinter
