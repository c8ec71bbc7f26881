#include "tools/overwinter/ensemble_text.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <filesystem>

#include "sim/netlist/units_text.hpp"
#include "sim/number_text.hpp"
#include "sim/text.hpp"
#include "tools/overwinter/terminal.hpp"

namespace overwinter {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t shown_whole = 12, shown_worst = 10;

std::string count_text(const std::optional<double>& n) { return n ? fmt::format("{:.0f}", *n) : "-"; }
std::string gap_text(const std::optional<double>& seconds) { return seconds ? duration_text(*seconds) : "-"; }

std::string line(std::size_t width, const std::string& name, const std::string& verdict, const std::string& wakes,
                 const std::string& gap, const std::string& brownouts, const std::string& damage,
                 const std::string& charge, const std::string& voltage) {
  return fmt::format("  {:<{}}  {:<13}  {:>6}  {:>11}  {:>10}  {:>6}  {:>13}  {:>14}\n", name, width, verdict, wakes,
                     gap, brownouts, damage, charge, voltage);
}

std::string member_line(std::size_t width, const MemberResult& r) {
  if (!r.complete()) return line(width, plain(r.member->name), verdict_word(r), "-", "-", "-", "-", "-", "-");
  return line(width, plain(r.member->name), verdict_word(r), count_text(r.wakes_completed), gap_text(r.longest_gap_s),
              count_text(r.brownouts), count_text(r.damage), percent_text(r.soc_min),
              fixed_text(r.voltage_min_V, 3) + " V");
}

std::string quantile_line(std::size_t width, const std::string& name, const char* key, const Json& quantiles) {
  const auto of = [&](const char* number) {
    const auto found = quantiles.find(number);
    return found == quantiles.end() ? std::nullopt : std::optional<double>(found->at(key).get<double>());
  };
  return line(width, name, "", count_text(of("wakes_completed")), gap_text(of("longest_gap_s")),
              count_text(of("brownouts")), count_text(of("damage")), percent_text(of("soc_min").value_or(0)),
              fixed_text(of("voltage_min_V").value_or(0), 3) + " V");
}

std::string by_requirement(const Json& counts) {
  std::vector<std::string> texts;
  for (const auto& [name, n] : counts.items()) texts.push_back(fmt::format("{} {}", worded(name), n.dump()));
  return fmt::format("{}", fmt::join(texts, ", "));
}

std::string verdict_text(const Json& counts) {
  const auto n = [&](const char* key) { return counts.at(key).get<std::size_t>(); };
  std::string text = fmt::format("{} of {} members held every requirement", n("held"), n("members"));
  if (n("failed") > 0) text += fmt::format("; {} failed", n("failed"));
  if (n("undecided") > 0) text += fmt::format("; {} undecided", n("undecided"));
  if (n("not_completed") > 0) text += fmt::format("; {} not completed", n("not_completed"));
  if (n("cut_short") > 0) text += fmt::format("; of these, {} cut short", n("cut_short"));
  text = note("Verdict", text);
  const Json &failed = counts.at("failed_by_requirement"), &undecided = counts.at("undecided_by_requirement");
  if (!failed.empty()) text += note("", "failed: " + by_requirement(failed));
  if (!undecided.empty()) text += note("", "undecided: " + by_requirement(undecided));
  if (n("typical_years") > 0) {
    text += note("", n("typical_years") == n("members") ? "(typical years: bad winters are not in them)"
                                                        : fmt::format("({} of the members: typical years; bad winters "
                                                                      "are not in them)",
                                                                      n("typical_years")));
  }
  if (n("with_findings") > 0) {
    text += note("Warning", fmt::format("{} of the members carry warnings: \"findings\" in members/NAME.json",
                                        n("with_findings")));
  }
  return text;
}

}  // namespace

std::string ensemble_text(const EnsembleResult& result, const std::string& command) {
  const Json& ensemble = result.ensemble;
  std::vector<const MemberResult*> sorted;
  for (const MemberResult& r : result.members) sorted.push_back(&r);
  std::stable_sort(sorted.begin(), sorted.end(), [](const auto* a, const auto* b) { return worse(*a, *b); });
  const bool whole = result.members.size() <= shown_whole;
  std::vector<const MemberResult*> shown = sorted;
  if (whole) {
    std::sort(shown.begin(), shown.end());  // as they lie: in canonical order
  } else {
    shown.resize(shown_worst);
  }

  std::string text = fmt::format("{}\n{} members in {:.1f} s\n\n", plain(ensemble.at("scenario").get<std::string>()),
                                 result.members.size(), ensemble.at("engine").at("wall_s").get<double>());
  if (const std::string set = overrides_text(ensemble); !set.empty()) text += set + "\n";
  text += cut_short_text(ensemble);
  text += verdict_text(ensemble.at("counts")) + "\n";
  const std::string heading = whole ? "member" : fmt::format("the worst {}", shown_worst);
  std::size_t width = heading.size();
  for (const MemberResult* r : shown) width = std::max(width, r->member->name.size());
  text += line(width, heading, "verdict", "wakes", "longest gap", "brown-outs", "damage", "lowest charge",
               "lowest voltage");
  for (const MemberResult* r : shown) text += member_line(width, *r);
  const Json& quantiles = ensemble.at("quantiles");
  if (!quantiles.empty()) {
    if (!whole) text += "  of all, each number by itself:\n";
    text += quantile_line(width, "median", "median", quantiles);
    if (!whole) text += quantile_line(width, "10 %", "tenth", quantiles);
    text += quantile_line(width, "worst", "worst", quantiles);
  }
  text += "\n";
  const Member& worst = *sorted.front()->member;
  const std::string folder = std::filesystem::path(result.folder + "/").parent_path().string();
  text += "Alone    " + command + options_of(worst) + " --out " + in_shell(folder + "-" + worst.name) +
          "\n         runs the worst member with its report, trace and events\n";
  text += fmt::format("Written  {0}/ensemble.json, {0}/members.csv, {0}/members/\n\n", folder);
  return text + cautions();
}

std::string errors_text(const EnsembleResult& result) {
  constexpr std::size_t shown = 5;
  std::string text;
  std::size_t errors = 0;
  for (const MemberResult& r : result.members) {
    if (r.complete() || ++errors > shown) continue;
    text += fmt::format("overwinter: member {} could not be completed: {}\n", plain(r.member->name), plain(r.error));
  }
  if (errors > shown) text += fmt::format("overwinter: nor could {} more, see members.csv\n", errors - shown);
  return text;
}

}  // namespace overwinter
