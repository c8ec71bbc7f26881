#include "sim/netlist/requirements.hpp"

#include <algorithm>
#include <utility>

#include "models/catalogue.hpp"
#include "sim/netlist/binder.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

const std::string highest = "at_most", lowest = "at_least";
constexpr double day = 86400, grace = 3600;  // s, of the minimum service

RequirementKind kind(std::string name, bool at_most, FieldKind limit_kind, Unit unit, std::string meaning) {
  Field limit;
  limit.key = at_most ? highest : lowest;
  limit.kind = limit_kind;
  limit.required = true;
  limit.unit = std::move(unit);
  limit.minimum = Limit{0, false};
  if (limit.unit.text == "%") limit.maximum = Limit{1, false};
  limit.set_number = [](void* p, double si) { static_cast<RequirementLimit*>(p)->limit = si; };
  limit.get_number = [](const void* p) -> std::optional<double> {
    return static_cast<const RequirementLimit*>(p)->limit;
  };
  return {std::move(name), std::move(meaning), at_most, {std::move(limit)}};
}

RequirementKind counted(std::string name, bool at_most, std::string meaning) {
  return kind(std::move(name), at_most, FieldKind::count, unit_of<int>("1"), std::move(meaning));
}

template <class Q>
RequirementKind measured(std::string name, bool at_most, std::string unit, std::string meaning) {
  return kind(std::move(name), at_most, FieldKind::scalar, unit_of<Q>(std::move(unit)), std::move(meaning));
}

RequirementKind needs_human() {
  RequirementKind result =
      counted("needs_human", true, "times the instrument did not wake by itself within so many sunny days");
  FieldsBuilder<RequirementLimit> t(result.name, result.meaning);
  t.count("sunny_days", &RequirementLimit::sunny_days)
      .at_least(1)
      .at_most(366)
      .meaning("sunny days after the day of the brown-out that it may take");
  result.fields.push_back(t.done().fields.front());
  return result;
}

RequirementKind standing(RequirementKind k, Standing when) {
  k.standing = when;
  return k;
}

RequirementKind without_wakes(RequirementKind k) {
  k.of_wakes = false;
  return k;
}

/// "longest_gap: {at_most: NUMBER h}", or with the value that is meant.
std::string form(const RequirementKind& k, std::string value = {}) {
  if (value.empty()) value = written_form(k.fields.front());
  return k.name + ": {" + k.fields.front().key + ": " + value + "}";
}

void add(const RequirementKind& k, double limit, Place place, bool by_default, Requirements& to) {
  to.all.push_back({k.name, k.at_most, limit, k.fields.front().unit, std::move(place), by_default});
}

void nothing_wakes(const RequirementKind& k, const Document& d, const Node& key, Faults& faults) {
  std::vector<std::string> models;
  for (const ModelTable* table : catalogue()) {
    if (has_event(*table, EventRole::wake_completed)) models.push_back(table->name);
  }
  faults.add(d.fault(key, k.name + " is a matter of wakes, and no part can complete one",
                     "remove it, or add a part of model " + listed(models)));
}

void read_one(const RequirementKind& k, const Document& d, const Node::Entry& entry, Requirements& to, Faults& faults) {
  const Node& value = entry.value;
  if (value.is_refused()) return;
  if (!value.is_mapping()) {
    faults.add(d.fault(value.is_null() ? entry.key : value,
                       k.name + " must be a mapping with " + k.fields.front().key + ", not " + described(value),
                       form(k, value.is_scalar() ? value.text : "")));
    return;
  }
  const std::string &right = k.fields.front().key, &wrong = k.at_most ? lowest : highest;
  const Node::Entry* turned = value.find(wrong);
  if (turned) {
    const bool both = value.find(right);
    const std::string meant = turned->value.is_scalar() ? turned->value.text : "";
    faults.add(d.fault(turned->key, k.name + " is limited by " + right + ", not by " + wrong,
                       both ? "remove " + wrong : form(k, meant)));
  }
  WrittenValues written;
  collect(k.fields, {wrong}, k.name, d, value, written, faults);
  RequirementLimit limit;
  bind_fields(k.fields, written, &limit, faults);
  if (!missing_fields(k.fields, written).empty() && !turned && !value.incomplete) {
    faults.add(d.fault(entry.key, k.name + " has no limit", form(k)));
  }
  add(k, limit.limit, d.place(entry.key), false, to);
  if (written.count("sunny_days")) to.sunny_days = limit.sunny_days;
}

}  // namespace

const std::vector<RequirementKind>& requirement_kinds() {
  static const std::vector<RequirementKind> kinds = {
      standing(measured<Duration>("longest_gap", true, "h",
                                  "longest time from the end of a completed wake to the end of the next"),
               Standing::nothing_required),
      standing(counted("brownouts", true, "brown-outs in the span"), Standing::always),
      standing(without_wakes(counted("damage", true,
                                     "times that a part was damaged: beyond an absolute limit (`overwinter explain "
                                     "controller`, `cell`), once where less than a minute lies between")),
               Standing::always),
      standing(needs_human(), Standing::nothing_required),
      measured<double>("downtime", true, "%", "share of the span between due alarms and late wakes"),
      counted("worst_day_wakes", false, "completed wakes on the day with the fewest"),
      counted("worst_week_wakes", false, "completed wakes in the 7 x 24 h with the fewest"),
      measured<Duration>("longest_recovery", true, "h", "longest time from a brown-out to the next completed wake"),
      without_wakes(measured<double>("lowest_charge", false, "%", "lowest state of charge of the cell")),
      without_wakes(
          measured<Voltage>("thinnest_margin", false, "mV", "least distance to a threshold that ends service")),
  };
  return kinds;
}

bool has_event(const ModelTable& table, EventRole role) {
  return std::any_of(table.events.begin(), table.events.end(), [&](const Event& e) { return e.role == role; });
}

Requirements read_requirements(const Document& d, const Node& section, bool wakes, Faults& faults) {
  std::vector<std::string> names;
  for (const RequirementKind& k : requirement_kinds()) names.push_back(k.name);
  for (const Node::Entry& entry : section.entries) {
    if (std::count(names.begin(), names.end(), entry.key.text)) continue;
    const std::string near = nearest(entry.key.text, names);
    faults.add(d.fault(entry.key, "there is no requirement " + in_quotes(entry.key.text),
                       near.empty() ? "one of " + listed(names) : near));
  }
  Requirements result;
  for (const RequirementKind& k : requirement_kinds()) {
    const Node::Entry* entry = section.find(k.name);
    if (!entry) continue;
    if (!wakes && k.of_wakes) nothing_wakes(k, d, entry->key, faults);
    read_one(k, d, *entry, result, faults);
  }
  return result;
}

void add_defaults(const Asked& asked, Requirements& to) {
  const double interval = asked.policy ? std::max(day, asked.policy->longest_interval().si()) : day;
  Requirements complete{{}, to.sunny_days};
  // To say how many brown-outs are meant asks for nothing.
  const bool asks = asked.section && std::any_of(to.all.begin(), to.all.end(), [](const Requirement& r) {
                      const auto& kinds = requirement_kinds();
                      return std::any_of(kinds.begin(), kinds.end(), [&](const RequirementKind& k) {
                        return k.name == r.name && k.standing != Standing::always;
                      });
                    });
  for (const RequirementKind& k : requirement_kinds()) {
    const auto named =
        std::find_if(to.all.begin(), to.all.end(), [&](const Requirement& r) { return r.name == k.name; });
    const bool holds = k.standing == Standing::always || (k.standing == Standing::nothing_required && !asks);
    if (named != to.all.end()) {
      complete.all.push_back(*named);
    } else if (holds && (asked.wakes || !k.of_wakes)) {
      add(k, k.name == "longest_gap" ? interval + grace : 0, {asked.path, 0, 0}, true, complete);
    }
  }
  to = std::move(complete);
}

}  // namespace overwinter
