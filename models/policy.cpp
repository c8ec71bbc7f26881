#include "models/policy.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <string>

namespace overwinter {

namespace {

FieldBuilder sleeping(FieldBuilder field) {
  return field.at_least(1)
      .at_most(366 * 86400.0)
      .meaning("from the setting of the alarm, or from counts_from of the controller, to the alarm; whole seconds");
}

const std::vector<Field>& row_fields() {
  static const std::vector<Field> fields = [] {
    FieldsBuilder<PolicyRow> t("policy row", "One row of a voltage table.");
    t.scalar("below", &PolicyRow::below, "V")
        .above(0)
        .meaning("the row holds below this voltage; left out in the last");
    sleeping(t.scalar("every", &PolicyRow::every, "min")).required();
    return t.done().fields;
  }();
  return fields;
}

bool shorter(const PolicyRow& a, const PolicyRow& b) { return a.every < b.every; }

bool whole(Duration d) { return std::abs(d.si() - std::round(d.si())) < 1e-6; }

}  // namespace

const std::vector<Field>& Policy::fields() {
  static const std::vector<Field> fields = [] {
    using P = PolicyParameters;
    FieldsBuilder<P> t("policy", "How long the instrument sleeps.");
    sleeping(t.scalar("every", &P::every, "min"));
    t.rows("table", &P::table, row_fields()).meaning("intervals over the voltage that the firmware reads");
    t.scalar("hysteresis", &P::hysteresis, "mV")
        .at_least(0)
        .at_most(5)
        .meaning("how far above a row's voltage the reading must be before the next row holds again");
    return t.done().fields;
  }();
  return fields;
}

std::shared_ptr<const Policy> Policy::build(const PolicyParameters& p, std::vector<Finding>& findings) {
  if (p.every && !p.table.empty()) {
    findings.push_back({"table", "the policy has a table and also one interval for all voltages", "remove every"});
  }
  if (!p.every && p.table.empty()) {
    findings.push_back({"every", "the policy names no interval",
                        "every: NUMBER min, or table: [{below: NUMBER V, "
                        "every: NUMBER min}, ..., {every: NUMBER min}]"});
  }
  if (p.every && p.table.empty() && p.hysteresis > Voltage{0.0}) {
    findings.push_back({"hysteresis", "hysteresis is between the rows of a table, and the policy has none",
                        "remove it, or give a table in place of every"});
  }
  if (p.every && !whole(*p.every)) {
    findings.push_back({"every", "the interval is not in whole seconds, as a clock needs it", "round it"});
  }
  Policy policy;
  policy.hysteresis_ = p.hysteresis.si();
  policy.places_.resize(std::max<std::size_t>(1, p.table.size()));
  std::iota(policy.places_.begin(), policy.places_.end(), std::size_t{0});
  std::stable_sort(policy.places_.begin(), policy.places_.begin() + static_cast<std::ptrdiff_t>(p.table.size()),
                   [&p](std::size_t i, std::size_t j) {
                     const PolicyRow &a = p.table[i], &b = p.table[j];
                     return a.below && (!b.below || *a.below < *b.below);
                   });
  for (std::size_t i = 0; i < p.table.size(); ++i) policy.rows_.push_back(p.table[policy.places_[i]]);
  const auto open =
      std::count_if(policy.rows_.begin(), policy.rows_.end(), [](const PolicyRow& r) { return !r.below; });
  for (std::size_t i = 0; i < p.table.size(); ++i) {
    const PolicyRow& row = p.table[i];
    if (!whole(row.every)) {
      findings.push_back(
          {"table", "the interval is not in whole seconds, as a clock needs it", "round it", i, "every"});
    }
    const auto same = [&](const PolicyRow& other) { return row.below && other.below && *other.below == *row.below; };
    const auto first = std::find_if(p.table.begin(), p.table.end(), same) - p.table.begin();
    if (row.below && static_cast<std::size_t>(first) < i) {
      findings.push_back({"table",
                          "rows " + std::to_string(first + 1) + " and " + std::to_string(i + 1) +
                              " of the table hold below the same voltage",
                          "remove one, or give them different voltages", i, "below"});
    }
  }
  if (!p.table.empty() && open != 1) {
    findings.push_back({"table",
                        open == 0 ? "the table does not say what holds at its highest voltages"
                                  : "several rows have no voltage, so that more than one holds at the top",
                        "give exactly one row without below: {every: NUMBER min}"});
  }
  if (open == 1 && p.table.back().below) {
    const auto row =
        std::find_if(p.table.begin(), p.table.end(), [](const PolicyRow& r) { return !r.below; }) - p.table.begin();
    findings.push_back({"table",
                        "row " + std::to_string(row + 1) + " of the table has no voltage, but it is not the last",
                        "add below: NUMBER V to it, or put it last", static_cast<std::size_t>(row)});
  }
  if (p.every) policy.rows_ = {{std::nullopt, *p.every}};
  if (!findings.empty()) return nullptr;
  return std::make_shared<Policy>(policy);
}

Duration Policy::longest_interval() const { return std::max_element(rows_.begin(), rows_.end(), shorter)->every; }

Duration Policy::shortest_interval() const { return std::min_element(rows_.begin(), rows_.end(), shorter)->every; }

int Policy::interval(double voltage, std::int32_t& row) const {
  const auto last = static_cast<std::int32_t>(rows_.size()) - 1;
  const auto below = [&](std::int32_t i) { return rows_[static_cast<std::size_t>(i)].below->si(); };
  if (row < 0 || row > last) {
    row = 0;
    while (row < last && voltage >= below(row)) ++row;
  } else {
    while (row < last && voltage >= below(row) + hysteresis_) ++row;  // (2)
    while (row > 0 && voltage < below(row - 1)) --row;                // (1)
  }
  return static_cast<int>(std::lround(rows_[static_cast<std::size_t>(row)].every.si()));
}

}  // namespace overwinter
