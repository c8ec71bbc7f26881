#include "tools/overwinter/revive_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <filesystem>

#include "sim/number_text.hpp"
#include "sim/text.hpp"
#include "tools/overwinter/terminal.hpp"

namespace overwinter {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t most_groups = 6, most_dropped = 8;

std::string number_of(const Json& j, const char* key) { return j.at(key).dump(); }

/// "5 % to 40 %" of neighbours in a long list, else "a, b".
std::string values_text(const Json& values, const Json& all) {
  std::vector<std::string> names = values.get<std::vector<std::string>>();
  const auto known = all.get<std::vector<std::string>>();
  const auto first = std::search(known.begin(), known.end(), names.begin(), names.end());
  if (names.size() > 2 && first != known.end()) return names.front() + " to " + names.back();
  return fmt::format("{}", fmt::join(names, " or "));
}

std::string where_text(const Json& summary, const Json& where) {
  if (where.empty()) return "always";
  std::vector<std::string> texts;
  for (const Json& d : summary.at("dimensions")) {
    const std::string name = d.at("name").get<std::string>();
    if (where.contains(name)) texts.push_back(plain(name) + ": " + values_text(where.at(name), d.at("values")));
  }
  return fmt::format("{}", fmt::join(texts, "; "));
}

/// The dawn, the charge, and whatever is not as usual.
std::string example_text(const Json& summary, const Json& state) {
  std::string text;
  std::size_t place = 0;
  for (const Json& d : summary.at("dimensions")) {
    const std::string name = d.at("name").get<std::string>(), value = state.at(name).get<std::string>();
    if (place++ > 1 && value == d.at("values")[0].get<std::string>()) continue;
    text += (text.empty() ? "" : ", ") + plain(name) + " " + value;
  }
  return text;
}

/// Within 100 columns, the text behind a label of this indent.
std::string item(std::size_t indent, const std::string& label, const std::string& text) {
  constexpr std::size_t column = 19, width = 100;
  std::string lines = fmt::format("{:{}}{:<{}}", "", indent, label, column - indent);
  std::size_t at = std::max(column, indent + label.size());
  for (std::size_t begin = 0; begin < text.size();) {
    const std::size_t end = std::min(text.find(' ', begin), text.size());
    if (at + (end - begin) > width && at > column) {
      lines.erase(lines.find_last_not_of(' ') + 1);
      lines += "\n" + std::string(column, ' ');
      at = column;
    }
    lines += text.substr(begin, end - begin) + " ";
    at += end - begin + 1;
    begin = end + 1;
  }
  lines.erase(lines.find_last_not_of(' ') + 1);
  return lines + "\n";
}

/// "day 2 11:30" of a time since the first midnight.
std::string clock_of(double seconds) {
  const auto minutes = static_cast<long>(seconds / 60);
  return fmt::format("day {} {:02}:{:02}", minutes / 1440 + 1, minutes / 60 % 24, minutes % 60);
}

std::string cell_text(const Json& o) {
  std::vector<std::string> parts;
  const auto add = [&](const char* key, const char* word) {
    const auto n = o.at(key).get<std::size_t>();
    if (n > 0) parts.push_back(fmt::format("{} {}", n, word));
  };
  add("back", "back");
  add("traps", "trapped");
  add("replace_cell", "to replace");
  add("undecided", "undecided");
  add("not_tried", "not tried");
  if (parts.empty()) return "-";
  return fmt::format("{}", fmt::join(parts, ", "));
}

std::string overview_text(const ReviveResult& r) {
  const Json& overview = r.summary.at("overview");
  const auto at = [&](const std::string& charge, const std::string& dawn) -> const Json* {
    for (const Json& o : overview) {
      if (o.at("charge") == charge && o.at("dawn") == dawn) return &o;
    }
    return nullptr;
  };
  std::vector<std::size_t> widths;
  for (const DawnProfile& dawn : r.dawns) {
    std::size_t width = dawn.name.size();
    for (const std::string& charge : r.dimensions[1].values) {
      if (const Json* o = at(charge, dawn.name)) width = std::max(width, cell_text(*o).size());
    }
    widths.push_back(width);
  }
  std::string text = "  charge";
  for (std::size_t d = 0; d < r.dawns.size(); ++d) text += fmt::format("   {:<{}}", r.dawns[d].name, widths[d]);
  text += "\n";
  for (const std::string& charge : r.dimensions[1].values) {
    text += fmt::format("  {:>6}", charge);
    for (std::size_t d = 0; d < r.dawns.size(); ++d) {
      const Json* o = at(charge, r.dawns[d].name);
      text += fmt::format("   {:<{}}", o ? cell_text(*o) : "-", widths[d]);
    }
    text += "\n";
  }
  return text;
}

std::string when_text(const ReviveResult& r) {
  std::optional<double> first, last;
  for (const Json& o : r.summary.at("overview")) {
    if (o.at("first_back_s").is_null()) continue;
    first = std::min(first.value_or(1e99), o.at("first_back_s").get<double>());
    last = std::max(last.value_or(0), o.at("last_back_s").get<double>());
  }
  if (!first) return {};
  const std::string from = clock_of(*first), to = clock_of(*last);
  std::string text = "they complete the first wake " + (from == to ? "on " + from : "between " + from + " and " + to);
  double attempts = 0, energy = 0;
  for (const ReviveRow& row : r.rows) {
    if (row.result.fate != Fate::back) continue;
    attempts = std::max(attempts, row.result.attempts);
    energy = std::max(energy, row.result.energy);
  }
  if (attempts >= 1) {
    text += fmt::format(", after up to {:.0f} starts in vain that take up to {}", attempts, energy_text(energy));
  }
  return text;
}

std::string block_text(const Json& summary, const Json& block) {
  std::string text = item(
      2, block.at("block").get<std::string>(),
      fmt::format("{}: {}", how_many(number_of(block, "states"), "state"), block.at("meaning").get<std::string>()));
  const Json& groups = block.at("groups");
  for (std::size_t g = 0; g < std::min(groups.size(), most_groups); ++g) {
    text += item(4, g == 0 ? "where" : "or",
                 fmt::format("{} ({})", where_text(summary, groups[g].at("where")), number_of(groups[g], "states")));
  }
  if (groups.size() > most_groups) {
    text += item(4, "",
                 fmt::format("and {} more, see \"groups\" in revive.json",
                             how_many(std::to_string(groups.size() - most_groups), "group")));
  }
  const auto before = groups[0].at("wakes_before").get<std::size_t>();
  text += item(4, "as in",
               example_text(summary, groups[0].at("example")) + ": " +
                   (before > 0 ? "after " + how_many(std::to_string(before), "wake") + ", " : "") +
                   plain(groups[0].at("text").get<std::string>()));
  const std::string rule = block.at("rule").get<std::string>();
  if (!rule.empty()) text += item(4, "try", rule);
  const auto says = block.at("review_says").get<std::vector<std::string>>();
  if (!says.empty()) text += item(4, "check", fmt::format("warns of this: {}", fmt::join(says, ", ")));
  return text;
}

std::string blocks_text(const Json& summary, const std::string& title, Fate fate) {
  std::string text;
  for (const Json& block : summary.at("blocks")) {
    if (block.at("verdict") == name_of(fate)) text += block_text(summary, block) + "\n";
  }
  if (text.empty()) return {};
  return title + "\n\n" + text;
}

std::string dropped_text(const ReviveResult& r) {
  std::size_t sum = 0;
  for (const DroppedStates& d : r.dropped) sum += d.count;
  if (sum == 0) return {};
  std::string text = fmt::format(
      "Left out: {} of {} combinations that cannot be, or that are another one within a minute\n", sum, r.combinations);
  for (std::size_t i = 0; i < std::min(r.dropped.size(), most_dropped); ++i) {
    text += fmt::format("  {:>6}  {}\n", r.dropped[i].count, plain(r.dropped[i].why));
  }
  if (r.dropped.size() > most_dropped) {
    text += fmt::format("          and {} more, see \"dropped\" in revive.json\n",
                        how_many(std::to_string(r.dropped.size() - most_dropped), "reason"));
  }
  return text + "\n";
}

}  // namespace

std::string revive_text(const ReviveResult& r) {
  const Json& summary = r.summary;
  const Json& counts = summary.at("counts");
  std::string text =
      fmt::format("{}\n{} before dawn on {}{}, in {:.1f} s\n\n", plain(summary.at("scenario").get<std::string>()),
                  how_many(std::to_string(r.rows.size()), "dead state"), iso(r.date),
                  r.date_given ? "" : ", the dullest day of the span", summary.at("engine").at("wall_s").get<double>());
  if (const std::string changes = changes_text(summary); !changes.empty()) text += changes + "\n";
  std::string label = "Dawns";
  for (const DawnProfile& dawn : r.dawns) {
    text += note(label, dawn.name + ": " + dawn.text);
    label.clear();
  }
  text += note("", std::string("(") + light_laws + ")");
  text += note("", fmt::format("every day the same; back: {} completed, the first within {}",
                               how_many(std::to_string(r.wakes), "wake"), how_many(std::to_string(r.days), "day")));
  text += "\n" + cut_short_text(summary);
  const std::size_t tried = r.rows.size() - r.count(Fate::not_tried);
  std::string verdict = fmt::format("{} of {} {}", number_of(counts, "back"), tried,
                                    tried == 1 ? "state comes back by itself" : "states come back by themselves");
  if (counts.at("traps") == 1) verdict += "; 1 is a trap";
  if (counts.at("traps") > 1) verdict += fmt::format("; {} are traps", number_of(counts, "traps"));
  if (counts.at("replace_cell") != 0) {
    verdict += fmt::format("; {} a new cell",
                           counts.at("replace_cell") == 1 ? "1 needs" : number_of(counts, "replace_cell") + " need");
  }
  if (counts.at("undecided") != 0) verdict += fmt::format("; {} undecided", number_of(counts, "undecided"));
  if (counts.at("not_completed") != 0) verdict += fmt::format("; {} not completed", number_of(counts, "not_completed"));
  if (counts.at("not_tried") != 0) verdict += fmt::format("; {} not tried", number_of(counts, "not_tried"));
  text += note("Verdict", verdict);
  const std::string when = when_text(r);
  if (!when.empty()) text += note("", when);
  text += "\n" + overview_text(r) + "\n";
  text += blocks_text(summary, "Traps", Fate::trap) + blocks_text(summary, "Cell to be replaced", Fate::replace_cell) +
          blocks_text(summary, "Undecided", Fate::undecided) + dropped_text(r);
  const std::string folder = std::filesystem::path(r.folder + "/").parent_path().string();
  text += fmt::format("Written  {0}/revive.json, {0}/revive.csv\n\n", folder);
  return text + cautions();
}

std::string revive_errors_text(const ReviveResult& r) {
  constexpr std::size_t shown = 3;
  std::string text;
  std::size_t errors = 0;
  for (const ReviveRow& row : r.rows) {
    if (row.result.fate != Fate::not_completed || ++errors > shown) continue;
    std::vector<std::string> state;
    for (std::size_t d = 0; d < row.state.size(); ++d) state.push_back(r.dimensions[d].values[row.state[d]]);
    text += fmt::format("overwinter: the state {} could not be completed: {}\n", fmt::join(state, ", "),
                        plain(row.result.text));
  }
  if (errors > shown) text += fmt::format("overwinter: nor could {} more, see revive.csv\n", errors - shown);
  return text;
}

}  // namespace overwinter
