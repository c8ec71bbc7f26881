#include "sim/netlist/date_text.hpp"

#include <array>
#include <boost/date_time/gregorian/gregorian_types.hpp>
#include <vector>

#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr std::array<const char*, 12> month_names = {"January",   "February", "March",    "April",
                                                     "May",       "June",     "July",     "August",
                                                     "September", "October",  "November", "December"};

bool has_form(const std::string& text) {
  constexpr std::string_view form = "0000-00-00";
  if (text.size() != form.size()) return false;
  for (std::size_t i = 0; i < form.size(); ++i) {
    const bool digit = text[i] >= '0' && text[i] <= '9';
    if (form[i] == '-' ? text[i] != '-' : !digit) return false;
  }
  return true;
}

/// The day meant by a text such as 15.10.2024, 2024/10/15 or 2024-10-15 12:00; without one, how to write it.
std::string meant_date(const std::string& key, const std::string& text) {
  std::vector<int> numbers;
  std::vector<std::size_t> digits;
  std::string signs;
  for (std::size_t i = 0; i < text.size() && numbers.size() < 4; ++i) {
    const bool digit = text[i] >= '0' && text[i] <= '9';
    if (!digit && numbers.size() < 3) signs += text[i];
    if (!digit) continue;
    std::size_t end = i;
    while (end < text.size() && text[end] >= '0' && text[end] <= '9') ++end;
    if (numbers.size() == 3 || end - i > 4) break;
    numbers.push_back(std::stoi(text.substr(i, end - i)));
    digits.push_back(end - i);
    i = end - 1;
  }
  const std::string form = key + ": YYYY-MM-DD";
  if (numbers.size() != 3 || signs.size() < 2 || signs[0] != signs[1]) return form;
  CivilDate date{numbers[0], numbers[1], numbers[2]};
  if (digits[0] != 4) {
    if (digits[2] != 4) return form;
    const bool day_first = signs[0] == '.' || numbers[0] > 12;
    if (!day_first && numbers[1] <= 12) return form;  // 04/05/2024 is read either way
    date = day_first ? CivilDate{numbers[2], numbers[1], numbers[0]} : CivilDate{numbers[2], numbers[0], numbers[1]};
  }
  TextFault unused;
  const bool exists = has_form(iso(date)) && iso(date) != text && parse_date(key, iso(date), unused);
  return exists ? iso(date) : form;
}

}  // namespace

std::optional<CivilDate> parse_date(const std::string& key, const std::string& text, TextFault& why) {
  const auto fail = [&](std::string message, std::string suggestion = {}) {
    if (suggestion.empty()) suggestion = key + ": YYYY-MM-DD";
    why = {std::move(message), std::move(suggestion), 0, text.size()};
    return std::nullopt;
  };
  if (!has_form(text))
    return fail(key + " must be a day written YYYY-MM-DD, not " + in_quotes(text), meant_date(key, text));
  const CivilDate date{std::stoi(text.substr(0, 4)), std::stoi(text.substr(5, 2)), std::stoi(text.substr(8, 2))};
  if (date.year < first_year || date.year > last_year) {
    return fail("the year must be from " + std::to_string(first_year) + " to " + std::to_string(last_year));
  }
  if (date.month < 1 || date.month > 12) return fail(text + " does not exist: a year has the months 01 to 12");
  const int days = boost::gregorian::gregorian_calendar::end_of_month_day(static_cast<unsigned short>(date.year),
                                                                          static_cast<unsigned short>(date.month));
  if (date.day < 1) return fail(text + " does not exist: a month begins with day 01");
  if (date.day > days) {
    return fail(text + " does not exist: " + month_names[static_cast<std::size_t>(date.month - 1)] + " " +
                    std::to_string(date.year) + " has " + std::to_string(days) + " days",
                iso({date.year, date.month, days}));
  }
  return date;
}

}  // namespace overwinter
