#include "sim/ensemble/members.hpp"

#include <filesystem>
#include <map>
#include <set>

#include "sim/ensemble/number_list.hpp"
#include "sim/input_error.hpp"
#include "sim/netlist/date_text.hpp"
#include "sim/replay/weather_input.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace fs = std::filesystem;

namespace {

[[noreturn]] void refuse(const std::string& option, const std::string& message, const std::string& suggestion) {
  Fault fault;
  fault.place.file = option;
  fault.message = message;
  fault.suggestion = suggestion;
  throw InputError({fault});
}

void check_files(const std::vector<std::string>& files) {
  std::map<fs::path, std::string> seen;
  for (const std::string& file : files) {
    std::error_code unknown;
    const fs::path canonical = fs::weakly_canonical(file, unknown);
    const auto [at, is_new] = seen.emplace(unknown ? fs::path(file) : canonical, file);
    if (is_new) continue;
    refuse("--weather",
           at->second == file ? in_quotes(file) + " is given twice"
                              : in_quotes(file) + " and " + in_quotes(at->second) + " are the same file",
           "name each weather file once");
  }
}

void check_seeds(const Scenario& scenario, const Axes& axes) {
  if (axes.seeds.empty()) return;
  if (!axes.weather.empty()) {
    refuse("--seeds", "a seed means nothing to a weather file, and --weather gives one",
           "--seeds without --weather, or --weather without --seeds");
  }
  if (!scenario.seed) {
    refuse("--seeds", "the scenario's weather is a file, not synthetic: no seed changes it",
           "weather: {synthetic: CLIMATE.yaml} in the scenario, or --weather with several files");
  }
}

void check_years(const Scenario& scenario, const Axes& axes) {
  if (axes.years.empty()) return;
  std::vector<std::optional<std::string>> files(axes.weather.begin(), axes.weather.end());
  if (files.empty()) files.emplace_back();
  for (const auto& file : files) {
    if (!repeats_every_year(scenario, file)) continue;
    refuse("--years",
           "the weather of " + (file ? *file : scenario.weather_file) +
               " is one year that is laid onto any other: every member would be the same",
           "--weather with several files, or a scenario with a CSV record or synthetic weather");
  }
  for (const int year : axes.years) {
    TextFault unused;
    const DaySpan span = span_in(scenario, year);
    if (!parse_date("from", iso(span.from), unused) || !parse_date("to", iso(span.to), unused)) {
      refuse("--years", "a span that begins in " + std::to_string(year) + " leaves the calendar, 1700 to 2261",
             "years between them");
    }
  }
}

/// The stems; of files with the same, behind the name of their folder, and numbered where that is not enough.
std::vector<std::string> names_of(const std::vector<std::string>& files) {
  std::map<std::string, int> count;
  for (const std::string& file : files) ++count[fs::path(file).stem().string()];
  std::set<std::string> taken;
  std::vector<std::string> names;
  for (const std::string& file : files) {
    const std::string stem = fs::path(file).stem().string();
    const std::string folder = fs::absolute(file).lexically_normal().parent_path().filename().string();
    const std::string wanted = count[stem] > 1 && !folder.empty() ? folder + "-" + stem : stem;
    std::string name = wanted;
    for (int i = 2; !taken.insert(name).second; ++i) name = wanted + "-" + std::to_string(i);
    names.push_back(name);
  }
  return names;
}

}  // namespace

std::vector<Member> members_of(const Scenario& scenario, const Axes& axes) {
  check_files(axes.weather);
  check_seeds(scenario, axes);
  check_years(scenario, axes);
  const std::size_t all = std::max<std::size_t>(1, axes.weather.size()) * std::max<std::size_t>(1, axes.seeds.size()) *
                          std::max<std::size_t>(1, axes.years.size());
  if (all > most_members) {
    refuse("overwinter run", "these are " + std::to_string(all) + " members, more than " + std::to_string(most_members),
           "fewer seeds, years or files");
  }
  std::vector<Member> members = {Member()};
  const auto vary = [&members](std::size_t count, const auto& set) {
    if (count == 0) return;
    std::vector<Member> varied;
    for (const Member& member : members) {
      for (std::size_t i = 0; i < count; ++i) {
        varied.push_back(member);
        const std::string name = set(varied.back(), i);
        varied.back().name += (member.name.empty() ? "" : "-") + name;
      }
    }
    members = std::move(varied);
  };
  const std::vector<std::string> names = names_of(axes.weather);
  vary(axes.weather.size(), [&](Member& m, std::size_t i) {
    m.weather = axes.weather[i];
    return names[i];
  });
  vary(axes.seeds.size(), [&](Member& m, std::size_t i) {
    m.seed = axes.seeds[i];
    return "seed-" + std::to_string(axes.seeds[i]);
  });
  vary(axes.years.size(), [&](Member& m, std::size_t i) {
    m.year = axes.years[i];
    return std::to_string(axes.years[i]);
  });
  return members;
}

std::string in_shell(const std::string& word) {
  const bool plain =
      word.find_first_not_of("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789._-+/:,=@%") ==
      std::string::npos;
  if (plain && !word.empty()) return word;
  std::string text = "'";
  for (const char c : word) text += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return text + "'";
}

std::string options_of(const Member& member) {
  std::string text;
  if (member.weather) text += " --weather " + in_shell(*member.weather);
  if (member.seed) text += " --seeds " + std::to_string(*member.seed);
  if (member.year) text += " --years " + std::to_string(*member.year);
  return text;
}

}  // namespace overwinter
