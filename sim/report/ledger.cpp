#include "sim/report/ledger.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/number_text.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

/// One table of energies against a common whole.
class EnergyTable {
 public:
  EnergyTable(const std::string& caption, const std::string& of, double whole)
      : whole_(whole), table_(caption, {{"What"}, {"Energy", true}, {"Share of " + of, true}, {"Share as a bar"}}) {}

  void row(const std::string& name, std::optional<double> joules, bool sum = false) {
    if (!joules) {
      table_.row({escaped(name), escaped("not known"), {}, {}});
      return;
    }
    const double share = whole_ > 0 ? *joules / whole_ : 0;
    const double width = std::clamp(share, 0.0, 1.0) * 100;
    table_.row(
        {escaped(name), escaped(energy_text(*joules)), escaped(whole_ > 0 ? percent_text(share) : ""),
         Html{fmt::format("<span class=\"track\" aria-hidden=\"true\"><span class=\"bar\" style=\"width:{:.2f}%\">"
                          "</span></span>",
                          width)}},
        sum ? "sum" : "item");
  }
  Html html() const { return table_.html(); }

 private:
  double whole_;
  HtmlTable table_;
};

struct Entry {
  std::string name;
  double joules;
};

/// Largest first; entries without a number and those that are nothing are left out.
std::vector<Entry> entries(const Facts& facts) {
  std::vector<Entry> found;
  if (!facts.is_object()) return found;
  for (const auto& [name, fact] : facts.items()) {
    const std::optional<double> joules = number_of(fact);
    if (joules && *joules != 0) found.push_back({name, *joules});
  }
  std::stable_sort(found.begin(), found.end(), [](const Entry& a, const Entry& b) { return a.joules > b.joules; });
  return found;
}

double sum_of(const std::vector<Entry>& all) {
  double sum = 0;
  for (const Entry& e : all) sum += e.joules;
  return sum;
}

Html light_table(const Facts& energy) {
  const double offered = number_of(member(energy, "harvest_offered_J")).value_or(0);
  EnergyTable table("What the panels offered at their best operating points", "the offer", offered);
  table.row("Offered", number_of(member(energy, "harvest_offered_J")), true);
  table.row("Harvested", number_of(member(energy, "harvested_J")), true);
  const std::vector<Entry> refused = entries(member(energy, "refused_J"));
  if (!refused.empty()) table.row("Refused", sum_of(refused), true);
  for (const Entry& e : refused) table.row("refused: " + worded(e.name), e.joules);
  return table.html();
}

Html use_table(const Facts& energy) {
  const std::optional<double> harvested = number_of(member(energy, "harvested_J"));
  const std::optional<double> stored = number_of(member(energy, "stored_change_J"));
  const double drawn = std::max(0.0, -stored.value_or(0));
  EnergyTable table("What was harvested, and what came out of the stores", "what came in",
                    harvested.value_or(0) + drawn);
  table.row("In: harvested", harvested, true);
  if (drawn > 0) table.row("In: drawn from the stores", drawn, true);
  table.row("Out: delivered", number_of(member(energy, "delivered_J")), true);
  for (const Entry& e : entries(member(energy, "delivered_by_part_J"))) table.row("to " + e.name, e.joules);
  table.row("Out: lost", number_of(member(energy, "lost_J")), true);
  if (const Facts& losses = member(energy, "losses_J"); losses.is_object()) {
    std::vector<Entry> parts;
    for (const auto& [part, causes] : losses.items()) parts.push_back({part, sum_of(entries(causes))});
    std::stable_sort(parts.begin(), parts.end(), [](const Entry& a, const Entry& b) { return a.joules > b.joules; });
    for (const Entry& part : parts) {
      for (const Entry& e : entries(losses.at(part.name)))
        table.row("in " + part.name + ": " + worded(e.name), e.joules);
    }
  }
  if (!(drawn > 0)) table.row("Out: added to the stores", stored, true);
  return table.html();
}

Html balance_table(const Facts& energy) {
  HtmlTable table("Does the balance close? Residuals as a share of all energy that passed through",
                  {{"Residual"}, {"Share", true}, {"Compared with"}});
  const auto line = [&](const char* name, const char* key, const char* meaning) {
    const std::optional<double> value = number_of(member(energy, key));
    table.row({escaped(name), escaped(value ? residual_text(*value) : "not known"), escaped(meaning)});
  };
  line("Ledger", "residual_ledger",
       "stored energy integrated beside the states; closes to rounding if nothing is forgotten");
  line("Independent", "residual_independent",
       "stored energy from the stores' closed form; shows the integration's error");
  return table.html();
}

}  // namespace

Html ledger_section(const Facts& summary) {
  const Facts& energy = member(summary, "energy");
  if (!energy.is_object()) return {};
  return section("ledger", "Where every joule went", light_table(energy) + use_table(energy) + balance_table(energy));
}

}  // namespace overwinter
