#include "sim/report/texts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/date_text.hpp"
#include "sim/netlist/review/finding.hpp"
#include "sim/number_text.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

bool has_form(const std::string& text, std::string_view form) {
  if (text.size() < form.size()) return false;
  for (std::size_t i = 0; i < form.size(); ++i) {
    const bool digit = text[i] >= '0' && text[i] <= '9';
    if (form[i] == '0' ? !digit : text[i] != form[i]) return false;
  }
  return true;
}

}  // namespace

std::string figure(double value) {
  constexpr double exact = 1e15;  // whole numbers below are so in a double
  return std::abs(value) < exact && value == std::round(value) ? fixed_text(value, 0) : fmt::format("{:.6g}", value);
}

std::string figure(std::optional<double> value, const std::string& unit) {
  return value ? figure(*value) + (unit.empty() ? "" : " " + unit) : "not known";
}

std::vector<std::string> gathered(const std::vector<std::string>& notes) {
  std::vector<std::pair<std::string, std::string>> by_text;
  for (const std::string& note : notes) {
    const std::size_t colon = note.find(": ");
    const std::string who = note.substr(0, colon), what = colon == std::string::npos ? "" : note.substr(colon);
    const auto known =
        std::find_if(by_text.begin(), by_text.end(), [&](const auto& entry) { return entry.second == what; });
    if (known == by_text.end() || what.empty()) {
      by_text.emplace_back(who, what);
    } else {
      known->first += ", " + who;
    }
  }
  std::vector<std::string> lines;
  for (const auto& [who, what] : by_text) lines.push_back(who + what);
  return lines;
}

std::vector<std::string> findings_of(const Facts& summary) {
  std::vector<std::string> sentences;
  for (const Facts& f : member(summary, "findings")) {
    sentences.push_back(sentence({"", {}, text_of(member(f, "text")), text_of(member(f, "try"))}));
  }
  return sentences;
}

std::vector<std::string> faults_in(const Facts& summary) {
  std::vector<std::string> sentences;
  for (const Facts& f : member(summary, "faults")) {
    const std::string part = text_of(member(f, "part")), details = text_of(member(f, "details")),
                      to = text_of(member(f, "to"));
    sentences.push_back((part.empty() ? "" : part + ": ") + text_of(member(f, "fault")) +
                        (details.empty() ? "" : ", " + details) + ", from " + text_of(member(f, "from")) +
                        (to.empty() ? " on" : " to " + to));
  }
  return sentences;
}

std::string zooms_of(const Facts& summary) {
  const auto found = summary.find("zooms");
  if (found == summary.end() || member(*found, "thin") == 0) return {};
  const auto count = [&](const char* key) { return member(*found, key).get<std::size_t>(); };
  const std::size_t looks = count("looked_into"), failed = count("failed");
  return how_many(std::to_string(count("thin")), "moment") + " with a thin worst case; " + std::to_string(looks) +
         " looked into, in " + std::to_string(count("steps")) + " steps and " + std::to_string(count("solves")) +
         " solutions of the network; " +
         (failed == 0 ? "nothing failed in them" : "in " + std::to_string(failed) + " of them something failed");
}

std::vector<std::string> overrides_of(const Facts& summary) {
  std::vector<std::string> sentences;
  for (const Facts& o : member(summary, "overrides")) {
    const std::string was = text_of(member(o, "was"));
    sentences.push_back(text_of(member(o, "path")) + " is " + text_of(member(o, "value")) +
                        (was.empty() ? ", which the file does not say" : ", not " + was));
  }
  return sentences;
}

std::vector<std::string> mechanisms_of(const Facts& summary) {
  std::vector<std::string> lines;
  for (const Facts& m : member(summary, "mechanisms")) {
    const std::string times = how_many(figure(number_of(member(m, "count")), ""), text_of(member(m, "counts")));
    lines.push_back(text_of(member(m, "id")) + ", " + times + ": " + text_of(member(m, "text")));
  }
  return lines;
}

const char* const by_default = "by default, the scenario does not name it";

const char* const restart_in_vain =
    "A restart in vain is one turn of a reset loop: power comes back, and a part cuts it or browns out before a wake "
    "is "
    "completed. It is counted for each part that did.";

std::string sunny_days_of(const Facts& episode) {
  const std::optional<double> days = number_of(member(episode, "sunny_days"));
  if (!days || *days == 0) return {};
  std::string text = how_many(figure(*days), "sunny day") + " came and went";
  const Facts& refused = member(episode, "sunny_days_refused_by");
  if (!refused.is_object()) return text;
  for (const auto& [by, fact] : refused.items()) {
    const std::optional<double> n = number_of(fact);
    if (!n) continue;
    const std::string which = *n != *days ? figure(*n) : *days == 1 ? "it" : "all " + figure(*n);
    text += fmt::format("; most of the light was refused on {} ({})", which, by);
  }
  return text;
}

std::optional<Tick> tick_of(const std::string& iso_utc) {
  constexpr std::string_view form = "0000-00-00T00:00:00";
  if (!has_form(iso_utc, form) || iso_utc.back() != 'Z') return std::nullopt;
  const std::string decimals = iso_utc.substr(form.size(), iso_utc.size() - 1 - form.size());
  constexpr std::size_t most_decimals = 9;
  if (!decimals.empty() && (decimals[0] != '.' || decimals.size() > 1 + most_decimals ||
                            decimals.find_first_not_of("0123456789", 1) != std::string::npos)) {
    return std::nullopt;
  }
  TextFault unused;
  const std::optional<CivilDate> date = parse_date("date", iso_utc.substr(0, 10), unused);
  if (!date) return std::nullopt;
  const auto two_digits = [&](std::size_t at) { return std::stoi(iso_utc.substr(at, 2)); };
  Tick tick = days_since_epoch(*date) * ticks_per_day +
              (two_digits(11) * 3600 + two_digits(14) * 60 + two_digits(17)) * ticks_per_second;
  Tick place = ticks_per_second;
  for (std::size_t i = 1; i < decimals.size(); ++i) {
    place /= 10;
    tick += (decimals[i] - '0') * place;
  }
  return tick;
}

std::string SiteClock::second(Tick utc) const {
  std::string text = iso_time(utc + offset_);
  text[text.find('T')] = ' ';
  text.pop_back();
  return text;
}

std::string SiteClock::minute(Tick utc) const {
  const std::string text = second(utc);
  return text.substr(0, text.rfind(':'));
}

std::string SiteClock::day(Tick utc) const {
  const std::string text = second(utc);
  return text.substr(0, text.find(' '));
}

std::string SiteClock::second(const std::string& iso_utc) const {
  const std::optional<Tick> tick = tick_of(iso_utc);
  return tick ? second(*tick) : iso_utc;
}

std::string SiteClock::name() const {
  const Tick minutes = std::abs(offset_) / (60 * ticks_per_second);
  return minutes == 0 ? "UTC" : fmt::format("UTC{}{:02}:{:02}", offset_ < 0 ? '-' : '+', minutes / 60, minutes % 60);
}

}  // namespace overwinter
