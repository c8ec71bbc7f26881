#include "sim/netlist/time_text.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "sim/input_error.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr Tick minute = 60 * ticks_per_second, hour = 60 * minute;
constexpr int first_year = 1700, last_year = 2261;  // the span of Tick
constexpr std::array<int, 12> month_days{31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};

bool is_digit(char c) { return c >= '0' && c <= '9'; }

struct Parts {
  int year = 0, month = 1, day = 1, hour = 0, minute = 0, second = 0;
  Tick fraction = 0;  // of a second
};

std::optional<Tick> tick_of(const Parts& p) {
  const bool leap = p.month == 2 && (p.year % 4 == 0 && (p.year % 100 != 0 || p.year % 400 == 0));
  if (p.year < first_year || p.year > last_year || p.month < 1 || p.month > 12) return std::nullopt;
  if (p.day < 1 || p.day > month_days[static_cast<std::size_t>(p.month - 1)] + (leap ? 1 : 0)) return std::nullopt;
  const Tick in_day = p.hour * hour + p.minute * minute + p.second * ticks_per_second + p.fraction;
  if (p.minute > 59 || p.second > 59 || in_day > ticks_per_day) return std::nullopt;
  return days_since_epoch({p.year, p.month, p.day}) * ticks_per_day + in_day;
}

/// Reads from the front of a text.
class Front {
 public:
  explicit Front(std::string_view text) : rest_(text) {}
  bool empty() const { return rest_.empty(); }
  bool take(char c) {
    if (rest_.empty() || rest_.front() != c) return false;
    rest_.remove_prefix(1);
    return true;
  }
  bool number(std::size_t least, std::size_t most, int& value) {
    std::size_t n = 0;
    value = 0;
    while (n < most && n < rest_.size() && is_digit(rest_[n])) value = value * 10 + (rest_[n++] - '0');
    rest_.remove_prefix(n);
    return n >= least;
  }
  /// What stands behind the decimal sign of seconds, to the nanosecond.
  bool fraction(Tick& value) {
    Tick unit = ticks_per_second;
    std::size_t n = 0;
    for (; n < rest_.size() && is_digit(rest_[n]); ++n) value += (unit /= 10) * (rest_[n] - '0');
    rest_.remove_prefix(n);
    return n > 0;
  }

 private:
  std::string_view rest_;
};

bool read_offset(Front& text, std::optional<Tick>& offset) {
  if (text.empty()) return true;
  text.take(' ');
  if (text.take('Z')) {
    offset = 0;
    return text.empty();
  }
  const bool east = text.take('+');
  if (!east && !text.take('-')) return false;
  int hours = 0, minutes = 0;
  if (!text.number(2, 2, hours)) return false;
  const bool colon = text.take(':');
  if ((colon || !text.empty()) && !text.number(2, 2, minutes)) return false;
  offset = (hours * hour + minutes * minute) * (east ? 1 : -1);
  return text.empty() && hours <= 14 && minutes <= 59;
}

std::optional<ClockTime> read_iso(std::string_view written) {
  Front text(written);
  Parts parts;
  ClockTime time;
  if (!text.number(4, 4, parts.year) || !text.take('-') || !text.number(2, 2, parts.month) || !text.take('-') ||
      !text.number(2, 2, parts.day)) {
    return std::nullopt;
  }
  if (!text.empty()) {
    if (!text.take('T') && !text.take(' ')) return std::nullopt;
    if (!text.number(2, 2, parts.hour) || !text.take(':') || !text.number(2, 2, parts.minute)) return std::nullopt;
    if (text.take(':')) {
      if (!text.number(2, 2, parts.second)) return std::nullopt;
      if (text.take('.') && !text.fraction(parts.fraction)) return std::nullopt;
    }
    if (!read_offset(text, time.offset)) return std::nullopt;
  }
  const std::optional<Tick> tick = tick_of(parts);
  if (!tick) return std::nullopt;
  time.local = *tick;
  return time;
}

}  // namespace

std::optional<TimeForm> TimeForm::parse(const std::string& key, const std::string& form, TextFault& why) {
  struct Symbol {
    std::string_view text;
    Kind kind;
  };
  constexpr std::array<Symbol, 6> symbols{{{"YYYY", Kind::year},
                                           {"MM", Kind::month},
                                           {"DD", Kind::day},
                                           {"hh", Kind::hour},
                                           {"mm", Kind::minute},
                                           {"ss", Kind::second}}};
  const auto fail = [&](std::size_t offset, std::size_t length, std::string message, std::string suggestion) {
    why = {std::move(message), std::move(suggestion), offset, length};
    return std::nullopt;
  };
  TimeForm result;
  result.text_ = form;
  std::array<bool, symbols.size()> seen{};
  for (std::size_t at = 0; at < form.size();) {
    const auto symbol = std::find_if(symbols.begin(), symbols.end(), [&](const Symbol& s) {
      return std::string_view(form).substr(at, s.text.size()) == s.text;
    });
    if (symbol == symbols.end()) {
      if (std::string_view("YMDhmsHyd").find(form[at]) != std::string_view::npos) {
        return fail(at, 1, key + " has a " + in_quotes(form.substr(at, 1)) + " that is no part of a time",
                    "write YYYY, MM, DD, hh, mm and ss, such as DD.MM.YYYY hh:mm");
      }
      result.tokens_.push_back({Kind::literal, form[at++], false});
      continue;
    }
    const auto which = static_cast<std::size_t>(symbol - symbols.begin());
    if (seen[which]) {
      return fail(at, symbol->text.size(), key + " has " + std::string(symbol->text) + " twice",
                  "months are MM, minutes are mm");
    }
    seen[which] = true;
    if (!result.tokens_.empty()) result.tokens_.back().exact = true;
    result.tokens_.push_back({symbol->kind, '\0', false});
    at += symbol->text.size();
  }
  if (!seen[0] || !seen[1] || !seen[2]) {
    return fail(0, form.size(), key + " does not say where year, month and day stand",
                "write YYYY, MM, DD, hh, mm and ss, such as DD.MM.YYYY hh:mm");
  }
  return result;
}

std::optional<ClockTime> TimeForm::read(std::string_view written) const {
  if (tokens_.empty()) return read_iso(written);
  Front text(written);
  Parts parts;
  for (const Token& token : tokens_) {
    const std::size_t least = token.exact ? 2 : 1;
    bool good = true;
    switch (token.kind) {
      case Kind::year:
        good = text.number(4, 4, parts.year);
        break;
      case Kind::month:
        good = text.number(least, 2, parts.month);
        break;
      case Kind::day:
        good = text.number(least, 2, parts.day);
        break;
      case Kind::hour:
        good = text.number(least, 2, parts.hour);
        break;
      case Kind::minute:
        good = text.number(least, 2, parts.minute);
        break;
      case Kind::second:
        good = text.number(least, 2, parts.second) && (!text.take('.') || text.fraction(parts.fraction));
        break;
      case Kind::literal:
        good = text.take(token.literal);
        break;
    }
    if (!good) return std::nullopt;
  }
  const std::optional<Tick> tick = text.empty() ? tick_of(parts) : std::nullopt;
  if (!tick) return std::nullopt;
  return ClockTime{*tick, std::nullopt};
}

std::string clock_text(Tick local) {
  Tick day = local / ticks_per_day, rest = local % ticks_per_day;
  if (rest < 0) rest += ticks_per_day, --day;
  const Tick seconds = rest / ticks_per_second;
  const std::string text = fmt::format("{} {:02}:{:02}", iso(civil_date(day)), seconds / 3600, seconds / 60 % 60);
  return seconds % 60 == 0 ? text : text + fmt::format(":{:02}", seconds % 60);
}

}  // namespace overwinter
