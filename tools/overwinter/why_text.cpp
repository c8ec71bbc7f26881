#include "tools/overwinter/why_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "sim/ensemble/members.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/text.hpp"
#include "sim/why/knob_kinds.hpp"
#include "tools/overwinter/terminal.hpp"

namespace overwinter {
namespace {

using Json = nlohmann::ordered_json;

std::string text(const Json& j, const char* key) { return j.at(key).get<std::string>(); }

bool is_choice(const Json& change) { return text(change, "kind") == "choice"; }

/// It helps, but the search for the smallest was cut short.
bool is_first_find(const Json& change) { return change.contains("cut_short"); }

/// A number of which no smaller change was looked at.
bool by_a_hair(const Json& change) {
  return !is_choice(change) && !is_first_find(change) && change.at("short_of").is_null();
}

/// "2.75 V": a number as it was set, and its unit; a choice's value is a word.
std::string amount(const Json& number, const std::string& unit, int digits = 6) {
  if (number.is_string()) return number.get<std::string>();
  const double value = number.get<double>();
  const bool whole = std::abs(value) >= std::pow(10, digits);
  return (whole ? fmt::format("{:.0f}", value) : fmt::format("{:.{}g}", value, digits)) +
         (unit == "1" ? "" : " " + unit);
}

std::string signed_percent(double share) {
  const double percent = share * 100;
  return fmt::format("{:+.{}f} %", percent, std::abs(percent) < 9.95 ? 1 : 0);
}

std::string chain_text(const Json& story) {
  constexpr std::size_t time_width = 23, width = 100;
  std::string all, before;
  for (const Json& link : story.at("links")) {
    const std::string stamp = text(link, "time"), time = stamp.substr(0, 10) + " " + stamp.substr(11, 8);
    std::string line = fmt::format("  {:<{}}", time == before ? "" : time, time_width - 2);
    std::size_t column = time_width;
    const std::string what = plain(text(link, "text"));
    for (std::size_t at = 0; at < what.size();) {
      const std::size_t end = std::min(what.find(' ', at), what.size());
      if (column + (end - at) > width && column > time_width) {
        line.erase(line.find_last_not_of(' ') + 1);
        line += "\n" + std::string(time_width, ' ');
        column = time_width;
      }
      line += what.substr(at, end - at) + " ";
      column += end - at + 1;
      at = end + 1;
    }
    line.erase(line.find_last_not_of(' ') + 1);
    all += line + "\n";
    before = time;
  }
  return all;
}

/// What a change breaks elsewhere, or nothing.
std::string breakage(const Json& run) {
  const Json& breaks = run.at("breaks");
  if (!breaks.is_array() || breaks.empty()) return {};
  return fmt::format("{}", fmt::join(breaks.get<std::vector<std::string>>(), "; "));
}

/// Whether a change helps with the margin, and breaks nothing with it.
bool holds_with_margin(const Json& c) {
  if (!c.contains("with_margin") || c.at("with_margin").is_null()) return false;
  return c.at("with_margin").at("avoids").get<bool>() && breakage(c.at("with_margin")).empty();
}

/// "With 20 % more: lead.resistance 1.17 ohm holds; ...".
std::string margin_text(const Json& changes, double margin) {
  std::vector<std::string> all;
  for (const Json& c : changes) {
    if (!c.contains("with_margin")) continue;
    const Json& with = c.at("with_margin");
    if (with.is_null()) {
      all.push_back(text(c, "name") + " cannot be had");
      continue;
    }
    const std::string harm = breakage(with);
    all.push_back(text(c, "name") + " " + amount(with.at("to"), text(c, "unit")) + " " +
                  (!with.at("avoids").get<bool>() ? "does not avoid it any more"
                   : harm.empty()                 ? "holds"
                                                  : "avoids it, but: " + harm));
  }
  if (all.empty()) return {};
  return note("Margin", fmt::format("with {:.3g} % more of each, replayed: {}", 100 * margin, fmt::join(all, "; ")));
}

std::string title_of(const std::string& remedy) {
  if (remedy == name_of(Remedy::built)) return "to build or buy";
  if (remedy == name_of(Remedy::firmware)) return "in the firmware";
  return "only another datasheet";
}

/// By who can make them.
std::string change_lines(const Json& changes) {
  std::size_t width = title_of(name_of(Remedy::datasheet)).size();
  for (const Json& c : changes) width = std::max(width, text(c, "name").size());
  std::string all, remedy;
  for (const Json& c : changes) {
    const std::string unit = text(c, "unit");
    if (text(c, "remedy") != remedy) {
      remedy = text(c, "remedy");
      all += all.empty() ? fmt::format("  {:<{}}  {:>12}  {:>12}  {:>8}  brown-outs in the span\n", title_of(remedy),
                                       width, "from", "to", "by")
                         : fmt::format("  {}\n", title_of(remedy));
    }
    all +=
        fmt::format("    {:<{}}  {:>12}  {:>12}  {:>8}  {}{}\n", text(c, "name"), width - 2, amount(c.at("from"), unit),
                    amount(c.at("to"), unit), is_choice(c) ? "choice" : signed_percent(c.at("relative").get<double>()),
                    c.at("brownouts_in_span").is_null() ? "not known" : c.at("brownouts_in_span").dump(),
                    by_a_hair(c)                        ? ", the least that is looked at"
                    : is_first_find(c) && !is_choice(c) ? ", less of it not searched"
                                                        : "");
  }
  return all;
}

/// The command that runs a change.
std::string command_with(const Json& c, const std::string& command) {
  std::string set;
  for (const Json& s : c.at("set")) set += " --set " + in_shell(s.get<std::string>());
  return "         " + command + set + "\n";
}

std::string choice_text(const Json& c, const std::string& command) {
  return note("Choice", fmt::format("{} {} in place of {}; it is that or not, no part of it does", text(c, "name"),
                                    text(c, "to"), text(c, "from"))) +
         command_with(c, command);
}

/// Percent of the change, that does not do.
double short_share(const Json& c) {
  const double from = c.at("from").get<double>();
  return 100 * (c.at("short_of").get<double>() - from) / (c.at("to").get<double>() - from);
}

std::string smallest_text(const Json& c, bool of_all, const std::string& command) {
  const std::string unit = text(c, "unit");
  std::string line = fmt::format("{} from {} to {} ({})", text(c, "name"), amount(c.at("from"), unit),
                                 amount(c.at("to"), unit), signed_percent(c.at("relative").get<double>()));
  line += is_first_find(c) ? "; whether less of it does was not searched"
          : c.at("short_of").is_null()
              ? "; parts of one datasheet differ by as much, less was not looked at"
              : fmt::format("; {}, {:.0f} % of it, does not do", amount(c.at("short_of"), unit), short_share(c));
  if (const Json& when = c.at("brownout_short_of"); !when.is_null()) line += ": " + when.get<std::string>();
  if (holds_with_margin(c)) line += "; with the margin:";
  return note(of_all ? "Smallest" : "So far", line) +
         command_with(holds_with_margin(c) ? c.at("with_margin") : c, command);
}

/// It helps, but.
std::string no_cure_text(const Json& c) {
  const std::string unit = text(c, "unit"), harm = breakage(c);
  std::string line = fmt::format("{} from {} to {} would avoid it, but: ", text(c, "name"), amount(c.at("from"), unit),
                                 amount(c.at("to"), unit));
  line += harm.empty() ? fmt::format("parts of one datasheet differ by as much ({:.0f} %)",
                                     100 * knob_kind(text(c, "kind")).tolerance)
                       : harm;
  return note("No cure", line);
}

std::string one_text(const Json& b, std::size_t count, bool cut_in_replay, double margin, const std::string& command) {
  std::string all = fmt::format("Brown-out {} of {}, {}: {} ({})\n", b.at("number").dump(), count,
                                text(b, "time").substr(0, 19) + "Z", plain(text(b, "cause")), text(b, "cause_id"));
  all += chain_text(b.at("story")) + "\n";
  const Json &changes = b.at("changes"), &others = b.at("no_help");
  const std::string until = text(b, "avoided_until") +
                            (b.at("until_span_ends").get<bool>() ? ", the span's end" : ", when the light is back");
  if (changes.empty() && cut_in_replay) {
    all += note("Avoided", "no change was looked for");
  } else if (changes.empty()) {
    all +=
        note("Avoided", "by no single change of those that were tried (no brown-out in its place until " + until + ")");
  } else {
    all += note("Avoided", "by each of these alone: no brown-out in its place until " + until);
    all += change_lines(changes);
    if (!is_choice(changes.front())) all += smallest_text(changes.front(), !b.contains("not_searched"), command);
    for (const Json& c : changes) {
      if (is_choice(c)) all += choice_text(c, command);
    }
    all += margin_text(changes, margin);
  }
  const std::string day = text(b, "time").substr(0, 10);
  std::vector<std::string> useless, later;
  std::string choice;
  for (const Json& o : others) {
    std::string what = fmt::format("{} to {}", text(o, "name"), amount(o.at("tried"), text(o, "unit"), 3));
    const Json& then = o.at("brownout_then");
    const std::string when = then.is_null() ? "" : then.get<std::string>().substr(0, 10);
    if (when > day) {
      later.push_back(what + ": " + when);
    } else if (is_choice(o) && text(o, "name") == choice) {
      useless.back() += " or " + text(o, "tried");
    } else {
      choice = is_choice(o) ? text(o, "name") : "";
      useless.push_back(std::move(what));
    }
  }
  for (const Json& c : b.at("no_cure")) all += no_cure_text(c);
  if (!later.empty()) all += note("Later", fmt::format("but not avoided: {}", fmt::join(later, ", ")));
  if (!useless.empty()) all += note("No help", fmt::format("{}", fmt::join(useless, ", ")));
  if (b.contains("not_searched")) {
    const auto names = b.at("not_searched").get<std::vector<std::string>>();
    all += note("Left", fmt::format("not searched, or not to the end, for the search was cut short: {}",
                                    fmt::join(names, ", ")));
  }
  return all + "\n";
}

}  // namespace

std::string why_text(const Json& result, const std::string& command, const std::string& folder) {
  const std::size_t count = result.at("count").get<std::size_t>();
  std::string all = fmt::format("{}\n{} to {}\n", plain(text(result, "scenario")), text(result.at("span"), "from"),
                                text(result.at("span"), "to"));
  all += changes_text(result);
  all += cut_short_text(result);
  all += "\n";
  const bool cut_in_replay = result.contains("cut_short") && result.at("cut_short").contains("reached");
  const std::string written = fmt::format("Written  {}/why.json\n", folder);
  if (count == 0) {
    return all + (cut_in_replay ? "No brown-out before that.\n" : "No brown-out in this span.\n") + written;
  }
  bool any = false, numbers = false, hair = false, first_finds = false;
  for (const Json& b : result.at("brownouts")) {
    all += one_text(b, count, cut_in_replay, result.value("margin", 0.0), command);
    for (const Json& c : b.at("changes")) {
      any = true;
      numbers = numbers || (!is_choice(c) && !is_first_find(c));
      first_finds = first_finds || is_first_find(c);
      hair = hair || by_a_hair(c);
    }
  }
  const Json& engine = result.at("engine");
  const std::size_t told = result.at("brownouts").size();
  if (told < count) {
    all += note("Others",
                how_many(std::to_string(count - told), "further brown-out") + " not told here: --brownout N, or --all");
  }
  const std::string work = fmt::format("{} replays in {:.1f} s, {}", engine.at("replays").dump(),
                                       engine.at("wall_s").get<double>(), how_many(engine.at("jobs").dump(), "worker"));
  std::string checked = any ? "every change was replayed and holds" : "";
  if (numbers) checked += ", 95 % of each number's change was replayed and does not";
  if (numbers && first_finds) checked += " (but where the search was cut short)";
  if (hair) checked += " (but where it is the least that is looked at)";
  all += note("Checked", checked + (any ? ": " : "") + work);
  return all + written + "\n" + cautions();
}

}  // namespace overwinter
