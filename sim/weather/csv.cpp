#include "sim/weather/csv.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <filesystem>
#include <limits>
#include <map>
#include <optional>
#include <utility>

#include "models/light/sun.hpp"
#include "sim/input_error.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/sha256.hpp"
#include "sim/text.hpp"
#include "sim/weather/clock_jumps.hpp"
#include "sim/weather/closure.hpp"
#include "sim/weather/csv_source.hpp"

namespace overwinter {
namespace {

constexpr double missing = std::numeric_limits<double>::quiet_NaN();
constexpr Tick shortest_step = 60 * ticks_per_second, longest_step = ticks_per_day;
constexpr Tick longest_jump = 366 * ticks_per_day;  // more is a mistyped year
// Light below zero is the zero offset of a pyranometer under a clear night sky. ISO 9060:2018 lets its classes A, B and
// C have 7, 15 and 30 W/m2 at 200 W/m2 of net thermal radiation (from memory).
constexpr double least_light = -30;
// Sun between bright clouds: above the 1361 W/m2 outside the atmosphere for minutes, up to 1.6 times a clear sky's
// (from memory).
constexpr double most_light = 2000;
constexpr double coldest = -90, hottest = 70;  // degC; the lowest on record is -89.2

Tick ticks(Duration d) { return std::llround(d.si()) * ticks_per_second; }
double seconds(Tick t) { return static_cast<double>(t) / ticks_per_second; }
std::string apart(Tick t) { return duration_text(seconds(t)); }

/// Makes a record of evenly spaced rows of what a file says.
class RecordMaker {
 public:
  RecordMaker(const std::string& path, const CsvLayout& layout, const Site& site, const std::vector<DaySpan>& spans)
      : layout_(layout),
        site_offset_(ticks(site.utc_offset)),
        observer_(observer_at(site)),
        site_(site),
        spans_(spans),
        source_(path, layout, site_offset_),
        raw_(source_.read()) {
    record_.path = path;
  }

  MeasuredRecord make() {
    find_step();
    source_.finish_if_faulty();
    lay_out();
    source_.finish_if_faulty();
    look_at_clock();
    light_nights();
    fill_gaps();
    for (const DaySpan& span : spans_) check_coverage(span);
    source_.finish_if_faulty();
    record_.sha256 = sha256(source_.text());
    return std::move(record_);
  }

 private:
  void find_step() {
    std::map<Tick, std::size_t> counts;
    for (std::size_t i = 1; i < raw_.size(); ++i) ++counts[raw_[i].time - raw_[i - 1].time];
    const auto most = std::max_element(counts.begin(), counts.end(),
                                       [](const auto& a, const auto& b) { return a.second < b.second; });
    record_.step = most->first;
    if (record_.step < shortest_step || record_.step > longest_step) {
      source_.fault(source_.at_time(raw_[1], "the rows are " + apart(record_.step) + " apart",
                                    "give a file with a row every minute to every day"));
      return;
    }
    for (std::size_t i = 1; i < raw_.size(); ++i) {
      const Tick distance = raw_[i].time - raw_[i - 1].time;
      if (distance % record_.step != 0) {
        source_.fault(source_.at_time(raw_[i],
                                      fmt::format("this row comes {} after the one before it, the others are {} apart",
                                                  apart(distance), apart(record_.step)),
                                      "give rows that are evenly apart; whole rows may be missing"));
      } else if (distance > longest_jump) {
        source_.fault(source_.at_time(
            raw_[i],
            fmt::format("this row is {}, {} after the one before it", source_.local(raw_[i].time), apart(distance)),
            "correct its time, or give a record without years between its rows"));
      }
    }
  }

  /// The rows by their place in time, checked, and not-a-number where there are none.
  void lay_out() {
    const Tick first = raw_.front().time, step = record_.step;
    const Stamp stamp = layout_.time.stamp;
    record_.begin = first - (stamp == Stamp::end ? step : stamp == Stamp::middle ? step / 2 : 0);
    const auto count = static_cast<std::size_t>((raw_.back().time - first) / step + 1);
    record_.rows.assign(count, {missing, missing, missing, missing});
    std::size_t negative = 0;
    double lowest = 0;
    for (const CsvRecordRow& raw : raw_) {
      MeasuredRow& row = record_.rows[static_cast<std::size_t>((raw.time - first) / step)];
      for (std::size_t q = 0; q < csv_quantities; ++q) {
        double value = raw.values[q];
        if (std::isnan(value)) continue;
        if (q == csv_air) {
          value -= zero_celsius.si();
        } else if (source_.column(q)->sum) {
          value /= seconds(step);
        }
        if (q == csv_air ? value < coldest || value > hottest : value < least_light || value > most_light) {
          source_.fault(out_of_range(raw, q, value));
        }
        if (q != csv_air && value < 0) {
          lowest = std::min(lowest, value);
          ++negative;
          value = 0;
        }
        of(row, q) = value;
      }
      if (source_.full()) return;
    }
    if (negative > 0) {
      record_.warnings.push_back(
          fmt::format("light below zero, which is a sensor's offset at night, counts as zero: {}, "
                      "down to {:.2g} W/m2",
                      how_many(std::to_string(negative), "value"), lowest));
    }
  }

  /// What the light says of the clock: by the three columns of radiation, and before and after an hour that is missing.
  void look_at_clock() {
    const std::string file = std::filesystem::path(record_.path).filename().string();
    if (const std::optional<Closure> other = better_clock(radiation(), observer_)) {
      const std::string by = duration_text(std::abs(other->later.si()));
      const bool early = other->later < Duration{};
      record_.findings.push_back(
          {"radiation-columns-do-not-close",
           {"weather"},
           fmt::format("{}: global light is not the sum of diffuse and of direct light times the sine of the sun's "
                       "height ({:.2g} W/m2 rms); it is, within {:.2g} W/m2, if every row is taken {} {}",
                       file, other->rms, other->better_rms, by, early ? "later" : "earlier"),
           fmt::format("a utc_offset of the times that is {} {}, another stamp, or the site's right longitude", by,
                       early ? "smaller" : "larger")});
    }
    jumps_ = clock_jumps(record_, observer_, source_.shown_offset());
    if (!jumps_.empty())
      record_.findings.push_back({"clock-jumps", {"weather"}, file + ": " + jump_text(), jump_cure()});
  }

  std::vector<RadiationRow> radiation() const {
    std::vector<RadiationRow> rows;
    if (record_.step > 3600 * ticks_per_second) return rows;
    for (std::size_t i = 0; i < record_.rows.size(); ++i) {
      const MeasuredRow& row = record_.rows[i];
      if (std::isnan(row.global_horizontal + row.beam_normal + row.diffuse_horizontal)) continue;
      rows.push_back({begin_of(i), begin_of(i + 1), row.global_horizontal, row.beam_normal, row.diffuse_horizontal});
    }
    return rows;
  }

  std::string jump_text() const {
    const ClockJump& first = jumps_.front();
    const auto late = [](Duration d) {
      const double minutes = std::abs(d.si()) / 60;
      return minutes <= 5 ? std::string("on time")
                          : fmt::format("{:.0f} min {}", minutes, d < Duration{} ? "early" : "late");
    };
    const auto stamp_before = [this](const ClockJump& jump) {
      return source_.local(raw_.front().time + jump.begin - record_.begin - record_.step);
    };
    std::vector<std::string> others;
    for (std::size_t i = 1; i < jumps_.size(); ++i) others.push_back(stamp_before(jumps_[i]));
    return fmt::format(
        "an hour is missing after {}{}, and the light, {} before it, comes {} after it: the clock was put "
        "forward; utc_offset is standard time, so that all rows from there on count as an hour later "
        "than they are",
        stamp_before(first), others.empty() ? "" : " (and after " + listed(others) + ")", late(first.before),
        late(first.after));
  }
  static std::string jump_cure() {
    return "times in standard time the year round, or each with its offset from UTC, such as 2024-07-01T12:00+02:00";
  }

  Fault out_of_range(const CsvRecordRow& raw, std::size_t q, double value) {
    const CsvColumn& column = *source_.column(q);
    const std::string text = source_.text_of(raw, q);
    const std::string range = q == csv_air ? fmt::format("{:g}...{:g} degC", coldest, hottest)
                                           : fmt::format("{:g}...{:g} W/m2", least_light, most_light);
    const std::string mean = column.sum ? fmt::format(", {:.4g} W/m2 over {},", value, apart(record_.step)) : "";
    return source_.at_value(
        raw, q, fmt::format("{} {} {}{} is out of range", column.key, text, column.unit, mean),
        fmt::format("a value in {}, or the column's right unit; where it stands for no value, missing: {}", range,
                    source_.with_missing(text)));
  }

  static double& of(MeasuredRow& row, std::size_t q) {
    return q == csv_global    ? row.global_horizontal
           : q == csv_direct  ? row.beam_normal
           : q == csv_diffuse ? row.diffuse_horizontal
                              : row.air_celsius;
  }

  /// Light that is missing while the sun is down is none: some loggers do not record it.
  void light_nights() {
    for (std::size_t i = 0; i < record_.rows.size(); ++i) {
      std::optional<bool> night;
      for (std::size_t q = 0; q < csv_air; ++q) {
        double& light = of(record_.rows[i], q);
        if (!source_.column(q) || !std::isnan(light)) continue;
        if (!night) night = sun_up(begin_of(i), begin_of(i + 1), observer_, true_horizon).empty();
        if (*night) light = 0;
      }
    }
  }

  /// Fills what is short, and reports what is long and in the span.
  void fill_gaps() {
    std::vector<MeasuredRow>& rows = record_.rows;
    const Tick step = record_.step;
    const auto most = static_cast<std::size_t>(ticks(layout_.format.fill) / step);
    std::vector<bool> filled(rows.size()), lost(rows.size());
    for (std::size_t q = 0; q < csv_quantities; ++q) {
      if (!source_.column(q)) continue;
      for (std::size_t i = 0; i < rows.size(); ++i) {
        if (!std::isnan(of(rows[i], q))) continue;
        std::size_t end = i;
        while (end < rows.size() && std::isnan(of(rows[end], q))) ++end;
        const bool bridged = end - i <= most && i > 0 && end < rows.size();
        for (std::size_t k = i; k < end; ++k) {
          if (bridged) {
            const double share = static_cast<double>(k - i + 1) / static_cast<double>(end - i + 1);
            of(rows[k], q) = of(rows[i - 1], q) + share * (of(rows[end], q) - of(rows[i - 1], q));
          }
          (bridged ? filled : lost)[k] = true;
        }
        i = end;
      }
    }
    tell_filled(filled);
    tell_lost(lost);
    for (std::size_t i = 0; i < rows.size(); ++i) {
      if (lost[i]) rows[i].air_celsius = missing;
    }
  }

  void tell_filled(const std::vector<bool>& filled) {
    std::size_t count = 0, gaps = 0, longest = 0, longest_at = 0;
    for (std::size_t i = 0, run = 0; i < filled.size(); ++i) {
      run = filled[i] ? run + 1 : 0;
      count += filled[i];
      gaps += run == 1;
      if (run > longest) longest = run, longest_at = i + 1 - run;
    }
    if (count == 0) return;
    record_.warnings.push_back(
        fmt::format("{} filled by straight lines between the values around {}: {}, the longest {} from {}",
                    gaps == 1 ? "a gap is" : fmt::format("{} gaps are", gaps), gaps == 1 ? "it" : "them",
                    how_many(std::to_string(count), "row"), apart(static_cast<Tick>(longest) * record_.step),
                    source_.local(begin_of(longest_at))));
  }

  Tick begin_of(std::size_t row) const { return record_.begin + static_cast<Tick>(row) * record_.step; }

  void tell_lost(const std::vector<bool>& lost) {
    std::size_t others = 0;
    std::optional<std::pair<std::size_t, std::size_t>> first;
    for (std::size_t i = 0; i < lost.size(); ++i) {
      if (!lost[i]) continue;
      std::size_t end = i;
      while (end < lost.size() && lost[end]) ++end;
      const bool needed = std::any_of(spans_.begin(), spans_.end(), [&, first_lost = i](const DaySpan& span) {
        const TickSpan ticks = ticks_of_span(site_, span.from, span.to);
        return begin_of(end) > ticks.begin && begin_of(first_lost) < ticks.end;
      });
      if (needed) {
        if (first) {
          ++others;
        } else {
          first = {i, end};
        }
      }
      i = end;
    }
    if (!first) return;
    const auto [begin, end] = *first;
    const Tick length = begin_of(end) - begin_of(begin);
    std::vector<std::string> columns;
    bool all = true;
    for (std::size_t q = 0; q < csv_quantities; ++q) {
      if (!source_.column(q)) continue;
      if (std::isnan(of(record_.rows[begin], q))) {
        columns.push_back(source_.column(q)->key);
      } else {
        all = false;
      }
    }
    const auto after = std::find_if(raw_.begin(), raw_.end(), [&, first_lost = begin](const CsvRecordRow& r) {
      return r.time - raw_.front().time >= static_cast<Tick>(first_lost) * record_.step;
    });
    const CsvRecordRow& there = after == raw_.end() ? raw_.back() : *after;
    if (std::any_of(jumps_.begin(), jumps_.end(), [&](const ClockJump& j) { return j.begin == begin_of(begin); })) {
      source_.fault(source_.at_time(there, jump_text(), jump_cure()));
      return;
    }
    source_.fault(source_.at_time(
        there,
        fmt::format("{} from {} to {} ({}){}", all ? "nothing is recorded" : "there is no " + listed(columns),
                    source_.local(begin_of(begin)), source_.local(begin_of(end)), apart(length),
                    others == 0 ? "" : ", and in " + how_many(std::to_string(others), "other gap")),
        begin == 0 || end == lost.size()
            ? "a span without it"
            : fmt::format("a span without it, or fill: {:g} h, which draws straight lines across it",
                          seconds(length) / 3600)));
  }

  void check_coverage(const DaySpan& needed) {
    const Tick end = begin_of(record_.rows.size());
    const auto [span_begin, span_end] = ticks_of_span(site_, needed.from, needed.to);
    const bool early = span_begin<record_.begin, late = span_end> end;
    if (!early && !late) return;
    const auto day_at = [&](Tick t) { return civil_date((t + site_offset_) / ticks_per_day); };
    const Tick first = record_.begin + ticks_per_day - 1, last = end - ticks_per_day;
    const CivilDate from = early ? day_at(first) : needed.from, to = late ? day_at(last) : needed.to;
    const std::string all = fmt::format("the rows cover {} to {}", source_.local(record_.begin), source_.local(end));
    const std::string days = iso(needed.from) + " to " + iso(needed.to);
    source_.fault(source_.at_time(early ? raw_.front() : raw_.back(), all + ", not the whole span, " + days,
                                  spans_.size() > 1 ? "leave that year out, or give a file of the span's days"
                                  : days_since_epoch(from) <= days_since_epoch(to)
                                      ? fmt::format("span: {{from: {}, to: {}}}", iso(from), iso(to))
                                      : "give a file of the span's days"));
  }

  const CsvLayout& layout_;
  const Tick site_offset_;
  const Observer observer_;
  const Site site_;
  const std::vector<DaySpan> spans_;
  CsvSource source_;
  const std::vector<CsvRecordRow>& raw_;
  MeasuredRecord record_;
  std::vector<ClockJump> jumps_;
};

}  // namespace

MeasuredRecord read_csv(const std::string& path, const CsvLayout& layout, const Site& site,
                        const std::vector<DaySpan>& spans) {
  return RecordMaker(path, layout, site, spans).make();
}

}  // namespace overwinter
