#include "sim/netlist/units_text.hpp"

#include <fmt/format.h>
#include <udunits2.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <mutex>
#include <stdexcept>
#include <string_view>
#include <unordered_map>

#include "sim/input_error.hpp"
#include "sim/text.hpp"

namespace overwinter {

const char* const number_pattern = "[+-]?((0|[1-9][0-9]*)([.][0-9]*)?|[.][0-9]+)([eE][+-]?[0-9]+)?";

namespace {

constexpr std::array<const char*, 8> base_symbols = {"m", "kg", "s", "A", "K", "rad", "mol", "cd"};
using Exponents = std::array<int, base_symbols.size()>;

/// si = scale (x + offset), with exponents over the base units.
struct KnownUnit {
  Exponents exponents{};
  double scale = 1;
  double offset = 0;
  double inverse = 0;  ///< 1 / scale where that is a whole number: dividing by it rounds better than multiplying
  bool linear = true;  ///< neither logarithmic nor a time stamp

  double scaled(double x) const { return inverse > 0 ? x / inverse : x * scale; }
  double unscaled(double si) const { return inverse > 0 ? si * inverse : si / scale; }
};

ut_status visit_basic(const ut_unit* unit, void* known);
ut_status visit_product(const ut_unit*, int count, const ut_unit* const* bases, const int* powers, void* known);
ut_status visit_galilean(const ut_unit*, double scale, const ut_unit* inner, double offset, void* known);
ut_status visit_timestamp(const ut_unit*, const ut_unit*, double, void* known);
ut_status visit_logarithmic(const ut_unit*, double, const ut_unit*, void* known);
const ut_visitor visitor = {visit_basic, visit_product, visit_galilean, visit_timestamp, visit_logarithmic};

void count_base(const ut_unit* base, int power, KnownUnit& known) {
  const char* symbol = ut_get_symbol(base, UT_ASCII);
  for (std::size_t i = 0; symbol && i < base_symbols.size(); ++i) {
    if (std::string_view(symbol) == base_symbols[i]) known.exponents[i] += power;
  }
}

ut_status visit_basic(const ut_unit* unit, void* known) {
  count_base(unit, 1, *static_cast<KnownUnit*>(known));
  return UT_SUCCESS;
}

ut_status visit_product(const ut_unit*, int count, const ut_unit* const* bases, const int* powers, void* known) {
  for (int i = 0; i < count; ++i) count_base(bases[i], powers[i], *static_cast<KnownUnit*>(known));
  return UT_SUCCESS;
}

ut_status visit_galilean(const ut_unit*, double scale, const ut_unit* inner, double offset, void* known) {
  auto& k = *static_cast<KnownUnit*>(known);
  k.scale *= scale;
  k.offset += offset;
  return ut_accept_visitor(inner, &visitor, known);
}

ut_status visit_timestamp(const ut_unit*, const ut_unit*, double, void* known) {
  static_cast<KnownUnit*>(known)->linear = false;
  return UT_SUCCESS;
}

ut_status visit_logarithmic(const ut_unit*, double, const ut_unit*, void* known) {
  static_cast<KnownUnit*>(known)->linear = false;
  return UT_SUCCESS;
}

/// UDUNITS would read "V 2" as two volts and "K from 3" as a shifted scale: digits may only be exponents, except in
/// "1/".
bool is_plain_unit(std::string_view text) {
  if (text == "1") return true;
  if (text.substr(0, 2) == "1/") text.remove_prefix(2);
  char before = ' ';
  for (const char c : text) {
    if (std::isdigit(static_cast<unsigned char>(c)) && !std::isalpha(static_cast<unsigned char>(before)) &&
        before != '^' && before != '-') {
      return false;
    }
    if (std::string_view("@:,;_\"'+=<>").find(c) != std::string_view::npos) return false;
    before = c;
  }
  return true;
}

/// The unit system, read once, with everything that was looked up in it.
class UnitSystem {
 public:
  static UnitSystem& instance() {
    static UnitSystem system;
    return system;
  }

  /// Null for a text that is not a unit.
  const KnownUnit* find(const std::string& text) {
    const std::lock_guard lock(mutex_);
    const auto [entry, added] = cache_.try_emplace(text);
    if (added) entry->second = parse(text);
    return entry->second ? &*entry->second : nullptr;
  }

  UnitSystem(const UnitSystem&) = delete;
  UnitSystem& operator=(const UnitSystem&) = delete;

 private:
  UnitSystem() {
    ut_set_error_message_handler(ut_ignore);
    system_ = ut_read_xml(nullptr);
    if (!system_) throw std::runtime_error("the unit data base of UDUNITS-2 cannot be read (package libudunits2-data)");
    map("Ah", "A h");
    map("Wh", "W h");
    map("deg", "arc_degree");
  }
  ~UnitSystem() { ut_free_system(system_); }

  void map(const char* symbol, const char* meaning) {
    ut_unit* unit = ut_parse(system_, meaning, UT_ASCII);
    ut_map_symbol_to_unit(symbol, UT_ASCII, unit);
    ut_free(unit);
  }

  std::optional<KnownUnit> parse(const std::string& text) const {
    if (!is_plain_unit(text)) return std::nullopt;
    ut_unit* unit = ut_parse(system_, text.c_str(), UT_UTF8);
    if (!unit) return std::nullopt;
    KnownUnit known;
    ut_accept_visitor(unit, &visitor, &known);
    ut_free(unit);
    if (!known.linear) return std::nullopt;
    const double inverse = std::round(1 / known.scale);
    if (known.scale < 1 && inverse < 1e15 && std::abs(inverse * known.scale - 1) < 1e-14) known.inverse = inverse;
    return known;
  }

  ut_system* system_ = nullptr;
  std::mutex mutex_;
  std::unordered_map<std::string, std::optional<KnownUnit>> cache_;
};

const KnownUnit& own_unit(const Unit& unit) {
  const KnownUnit* known = UnitSystem::instance().find(unit.text);
  if (!known) throw std::logic_error("a model's table names the unknown unit '" + unit.text + "'");
  if (!std::equal(unit.dimension.begin(), unit.dimension.end(), known->exponents.begin())) {
    throw std::logic_error("a model's table gives the unit '" + unit.text + "' to a quantity of another dimension");
  }
  return *known;
}

bool is_ratio(const KnownUnit& unit) { return unit.exponents == Exponents{}; }

struct Kind {
  const char *unit, *noun;
};
constexpr Kind kinds[] = {
    {"V", "a voltage"},
    {"A", "a current"},
    {"s", "a time"},
    {"C", "an electric charge"},
    {"W", "a power"},
    {"J", "an energy"},
    {"ohm", "a resistance"},
    {"S", "a conductance"},
    {"F", "a capacitance"},
    {"H", "an inductance"},
    {"K", "a temperature"},
    {"rad", "an angle"},
    {"m", "a length"},
    {"m2", "an area"},
    {"W/m2", "an irradiance"},
    {"kg", "a mass"},
    {"1", "a plain ratio"},
    {"1/s", "a rate"},
    {"1/K", "a change per kelvin"},
    {"V/K", "a voltage per kelvin"},
    {"J/K", "a heat capacity"},
    {"W/K", "a thermal conductance"},
    {"J/mol", "a molar energy"},
};

std::string noun_of(const KnownUnit& unit) {
  for (const Kind& kind : kinds) {
    if (UnitSystem::instance().find(kind.unit)->exponents == unit.exponents) return kind.noun;
  }
  return "another quantity";
}

/// The unit meant by one with wrong upper or lower case, or without "deg": mah for mAh, C for degC. May be empty.
std::string respelled(const std::string& unit, const KnownUnit& expected) {
  const auto fits = [&](const std::string& text) {
    const KnownUnit* known = UnitSystem::instance().find(text);
    return known && known->exponents == expected.exponents;
  };
  if (fits("deg" + unit)) return "deg" + unit;
  constexpr std::size_t longest = 6;  // 64 spellings
  if (unit.size() > longest) return {};
  std::string best;
  int best_changes = static_cast<int>(longest) + 1;
  for (unsigned pattern = 1; pattern < (1u << unit.size()); ++pattern) {
    std::string text = unit;
    int changes = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
      if (!((pattern >> i) & 1u)) continue;
      const auto c = static_cast<unsigned char>(text[i]);
      text[i] = static_cast<char>(std::isupper(c) ? std::tolower(c) : std::toupper(c));
      ++changes;
    }
    if (changes < best_changes && fits(text)) {
      best = text;
      best_changes = changes;
    }
  }
  if (!best.empty()) return best;
  static const std::vector<std::string> common = {
      "V",  "mV",  "uV",   "A",    "mA",   "uA",   "nA", "Ah",  "mAh", "W",  "mW", "uW",   "Wh",  "mWh", "J",    "kJ",
      "mJ", "ohm", "mohm", "kohm", "Mohm", "degC", "K",  "deg", "rad", "%",  "s",  "ms",   "us",  "min", "hour", "h",
      "d",  "F",   "uF",   "nF",   "pF",   "H",    "uH", "m",   "km",  "Hz", "S",  "W/m2", "%/K", "1/K", "mV/K"};
  std::vector<std::string> fitting;
  for (const std::string& text : common) {
    if (fits(text)) fitting.push_back(text);
  }
  return nearest(unit, fitting);
}

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// A number at the start of a text.
struct Number {
  double value = 0;
  std::size_t length = 0;  ///< bytes
};

constexpr std::string_view unicode_minus = "\xE2\x88\x92";

std::optional<Number> parse_number(const std::string& key, std::string_view text, TextFault& why) {
  const auto fail = [&](std::string message, std::string suggestion = {}) {
    why.message = std::move(message);
    why.suggestion = std::move(suggestion);
    return std::nullopt;
  };
  std::string word(text.substr(0, text.find(' ')));
  why.offset = 0;
  why.length = word.size();
  std::string letters;
  for (const char c : word) {
    if (std::isalpha(static_cast<unsigned char>(c)))
      letters += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  }
  std::size_t at = !text.empty() && (text[0] == '+' || text[0] == '-') ? 1 : 0;
  const std::size_t digits = at;
  while (at < text.size() && is_digit(text[at])) ++at;
  const std::size_t whole = at - digits;
  std::size_t fraction = 0;
  if (at < text.size() && text[at] == '.') {
    ++at;
    while (at + fraction < text.size() && is_digit(text[at + fraction])) ++fraction;
    at += fraction;
  }
  if (whole + fraction == 0) {
    if (letters == "nan" || letters == "inf" || letters == "infinity") {
      return fail(key + " must be a finite number, not " + in_quotes(word));
    }
    if (text.substr(0, unicode_minus.size()) == unicode_minus) {
      return fail(in_quotes(word) + " begins with a typographic minus sign",
                  "-" + std::string(text.substr(unicode_minus.size())));
    }
    return fail(key + " must begin with a number, not " + in_quotes(word));
  }
  if (whole > 1 && text[digits] == '0') {
    std::size_t zeros = 0;
    while (zeros + 1 < whole && text[digits + zeros] == '0') ++zeros;
    return fail(in_quotes(word) + " has a leading zero, which some readers take for an octal number",
                std::string(text.substr(0, digits)) + std::string(text.substr(digits + zeros)));
  }
  if (at < text.size() && text[at] == ',') {
    std::string with_point(text);
    with_point[at] = '.';
    return fail("the decimal sign is a point, not a comma", with_point);
  }
  if (at < text.size() && (text[at] == 'e' || text[at] == 'E')) {
    std::size_t end = at + 1;
    if (end < text.size() && (text[end] == '+' || text[end] == '-')) ++end;
    const std::size_t exponent = end;
    while (end < text.size() && is_digit(text[end])) ++end;
    if (end > exponent) at = end;
  }
  const std::size_t sign = text[0] == '+' ? 1 : 0;
  Number number;
  number.length = at;
  if (std::from_chars(text.data() + sign, text.data() + at, number.value).ec != std::errc()) {
    return fail(in_quotes(text.substr(0, at)) + " is beyond the range of floating-point numbers");
  }
  return number;
}

/// The unit to read one or more numbers of the field in, from the text after them, which may be empty.
const KnownUnit* parse_unit(const std::string& key, const std::string& number, const std::string& text,
                            const Unit& unit, bool is_zero, TextFault& why) {
  const KnownUnit& expected = own_unit(unit);
  static const KnownUnit one;
  if (text.empty()) {
    const bool on_a_scale = expected.offset != 0 && !unit.difference;
    if (is_ratio(expected)) return &one;
    if (is_zero && !on_a_scale) return &expected;
    why.message = "no unit after " + number + "; " + key + " is given in " + unit.text;
    why.suggestion = number + " " + unit.text;
    return nullptr;
  }
  const KnownUnit* known = UnitSystem::instance().find(text);
  if (known && known->exponents == expected.exponents) return known;
  const std::string better = respelled(text, expected);
  why.message = known ? in_quotes(text) + " measures " + noun_of(*known) + "; " + key + " is given in " + unit.text
                      : "the unit " + in_quotes(text) + " is not known; " + key + " is given in " + unit.text;
  if (!better.empty()) {
    why.suggestion = number + " " + better;
  } else if (is_ratio(expected)) {
    why.suggestion = unit.text == "1" ? "a number without a unit, or a number in %" : "a number in %";
  } else {
    why.suggestion = "a number in " + unit.text;
  }
  return nullptr;
}

double to_si(double x, const KnownUnit& unit, const Unit& field) {
  return unit.scaled(field.difference ? x : x + unit.offset);
}

/// Hours and minutes such as +05:30; a quantity is one number.
bool is_clock_time(const std::string& text) {
  const std::size_t sign = !text.empty() && (text[0] == '+' || text[0] == '-') ? 1 : 0, colon = text.find(':');
  if (colon == std::string::npos || colon < sign + 1 || colon > sign + 2 || text.size() != colon + 3) return false;
  for (std::size_t i = sign; i < text.size(); ++i) {
    if (i != colon && !is_digit(text[i])) return false;
  }
  return true;
}

/// A no-break or thin blank, as typesetting programs put them before units.
std::size_t special_blank(std::string_view text) {
  for (const std::string_view blank : {"\xC2\xA0", "\xE2\x80\xAF", "\xE2\x80\x89"}) {
    if (text.substr(0, blank.size()) == blank) return blank.size();
  }
  return 0;
}

std::size_t next_word(const std::string& text, std::size_t at) {
  const std::size_t found = text.find_first_not_of(" \t\n", at);
  return found == std::string::npos ? text.size() : found;
}

}  // namespace

std::optional<double> parse_quantity(const std::string& key, const std::string& text, const Unit& unit,
                                     TextFault& why) {
  const std::size_t begin = next_word(text, 0);
  const std::string body = trimmed(text);
  if (is_duration(unit) && is_clock_time(body)) {
    const std::size_t colon = body.find(':');
    const double minutes = std::stod(body.substr(colon + 1)) * (body[0] == '-' ? -1 : 1);
    why = {key + " is a number with a unit, not a time of day",
           fmt::format("{:g} h", std::stod(body.substr(0, colon)) + minutes / 60), begin, body.size()};
    return std::nullopt;
  }
  const auto number = parse_number(key, body, why);
  if (!number) {
    why.offset += begin;
    return std::nullopt;
  }
  const std::string unit_text = trimmed(body.substr(number->length));
  if (const std::size_t blank = special_blank(unit_text)) {
    why = {"a no-break blank stands before the unit, where a plain one belongs",
           body.substr(0, number->length) + " " + unit_text.substr(blank), begin, body.size()};
    return std::nullopt;
  }
  const KnownUnit* known = parse_unit(key, body.substr(0, number->length), unit_text, unit, number->value == 0, why);
  if (!known) {
    why.offset = begin + (unit_text.empty() ? 0 : body.size() - unit_text.size());
    why.length = unit_text.empty() ? body.size() : unit_text.size();
    return std::nullopt;
  }
  return to_si(number->value, *known, unit);
}

std::optional<int> parse_count(const std::string& key, const std::string& text, TextFault& why) {
  const std::size_t begin = next_word(text, 0);
  const std::string body = trimmed(text);
  const auto number = parse_number(key, body, why);
  if (!number) {
    why.offset += begin;
    return std::nullopt;
  }
  const std::string rest = trimmed(body.substr(number->length));
  why.suggestion.clear();
  if (!rest.empty()) {
    why = {key + " is a plain count, without a unit", body.substr(0, number->length), begin + body.size() - rest.size(),
           rest.size()};
    return std::nullopt;
  }
  int value = 0;
  const char* first = body.data() + (body[0] == '+' ? 1 : 0);
  const auto [end, error] = std::from_chars(first, body.data() + body.size(), value);
  if (error != std::errc() || end != body.data() + body.size()) {
    why = {key + " must be a whole number, not " + in_quotes(body), "", begin, body.size()};
    return std::nullopt;
  }
  return value;
}

std::optional<Row> parse_row(const std::string& key, const std::string& text, const Unit& unit, TextFault& why) {
  Row row;
  std::size_t at = next_word(text, 0);
  bool all_zero = true;
  const auto is_unit_start = [&] {
    const char c = text[at];
    const bool one_over = c == '1' && at + 1 < text.size() && text[at + 1] == '/';
    return one_over || !(is_digit(c) || c == '+' || c == '-' || c == '.' ||
                         std::string_view(text).substr(at, unicode_minus.size()) == unicode_minus);
  };
  while (at < text.size() && (row.si.empty() || !is_unit_start())) {
    const std::size_t end = std::min(text.find_first_of(" \t\n", at), text.size());
    const auto number = parse_number(key, std::string_view(text).substr(at, end - at), why);
    if (!number) {
      why.offset += at;
      return std::nullopt;
    }
    all_zero = all_zero && number->value == 0;
    row.si.push_back(number->value);
    row.offset.push_back(at);
    row.length.push_back(number->length);
    at += number->length;
    if (at < end) break;
    at = next_word(text, at);
  }
  if (row.si.empty()) {
    why = {key + " needs numbers and a unit, such as '0 1 2 " + unit.text + "'", "", 0, text.size()};
    return std::nullopt;
  }
  at = next_word(text, at);
  const std::string unit_text = trimmed(text.substr(at));
  const std::string numbers = trimmed(text.substr(0, at));
  const KnownUnit* known = parse_unit(key, numbers, unit_text, unit, all_zero, why);
  if (!known) {
    why.offset = unit_text.empty() ? row.offset.front() : at;
    why.length = unit_text.empty() ? row.offset.back() + row.length.back() - row.offset.front() : unit_text.size();
    return std::nullopt;
  }
  for (double& value : row.si) value = to_si(value, *known, unit);
  return row;
}

double in_unit(double si, const Unit& unit) {
  const KnownUnit& known = own_unit(unit);
  return known.unscaled(si) - (unit.difference ? 0 : known.offset);
}

std::string number_text(double si, const Unit& unit) {
  const double number = in_unit(si, unit);
  const bool round_and_large = std::abs(number) >= 1e6 && std::abs(number) <= 1e9;  // 1000000 rather than 1e+06
  const std::string text = round_and_large ? fmt::format("{:.0f}", number) : fmt::format("{:.6g}", number);
  return text == "-0" ? "0" : text;
}

std::string quantity_text(double si, const Unit& unit) {
  return unit.text == "1" ? number_text(si, unit) : number_text(si, unit) + " " + unit.text;
}

bool is_duration(const Unit& unit) { return unit.dimension == unit_of<Duration>("s").dimension; }

namespace {

/// Units in which the same quantity may be printed, the largest first; none but the given one for most.
std::vector<std::string> related_units(const Unit& unit) {
  if (is_duration(unit)) return {"d", "h", "min", "s", "ms", "us"};
  static const std::vector<std::string> prefixes = {"M", "k", "", "m", "u", "n", "p"};
  for (const std::string base : {"A", "V", "W", "ohm", "F", "Ah", "Wh"}) {
    std::vector<std::string> all;
    for (const std::string& prefix : prefixes) all.push_back(prefix + base);
    if (std::count(all.begin(), all.end(), unit.text)) return all;
  }
  return {};
}

bool in_three_digits(double number) {
  return std::abs(number - std::stod(fmt::format("{:.3g}", number))) <= 1e-9 * std::abs(number);
}

}  // namespace

std::string fitting_text(double si, const Unit& unit) {
  const bool duration = is_duration(unit);
  const double own = std::abs(in_unit(si, unit)), low = duration ? 0.1 : 0.01, high = duration ? 1e3 : 1e4;
  if (own == 0 || (own >= low && own < high && in_three_digits(own))) return quantity_text(si, unit);
  for (const std::string& text : related_units(unit)) {
    Unit other = unit;
    other.text = text;
    const double number = std::abs(in_unit(si, other)), from = text == "d" ? 2 : 1;  // 24 h
    if (number >= from && in_three_digits(number)) return quantity_text(si, other);
  }
  return quantity_text(si, unit);
}

std::string duration_text(double seconds) {
  constexpr double minute = 60, hour = 60 * minute, day = 24 * hour;
  const double size = std::abs(seconds);
  const auto text = [](double number, const char* unit) {
    return fmt::format(std::abs(number) >= 99.95 ? "{:.0f} {}" : "{:.3g} {}", number, unit);
  };
  if (size < minute) return text(seconds, "s");
  if (size < hour) return text(seconds / minute, "min");
  if (size < 2 * day) return text(seconds / hour, "h");
  return text(seconds / day, "d");
}

}  // namespace overwinter
