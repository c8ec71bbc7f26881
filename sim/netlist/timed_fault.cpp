#include "sim/netlist/timed_fault.hpp"

#include "models/catalogue.hpp"
#include "sim/netlist/field_text.hpp"

namespace overwinter {

const std::string open_fault = "open", short_fault = "short", cold_snap = "cold-snap", clock_stopped = "stopped";

const std::vector<FaultForm>& faults_of_every_part() {
  static const std::vector<FaultForm> forms = {
      {open_fault, "its joints are broken: nothing flows through its pins", {}, {}, {}},
      {short_fault, "its first two pins are joined by 10 mohm", {}, {}, {}},
  };
  return forms;
}

const std::vector<FaultForm>& faults_of_the_site() {
  static const std::vector<FaultForm> forms = [] {
    FieldsBuilder<FaultValues> t("cold-snap", "");
    t.scalar("by", &FaultValues::colder, "K")
        .difference()
        .required()
        .above(0)
        .at_most(60)
        .meaning("how much colder the air is than the weather has it");
    return std::vector<FaultForm>{{cold_snap, "the air is colder; it has no part", t.done().fields, {}, {}}};
  }();
  return forms;
}

std::vector<const FaultForm*> faults_of(const ModelTable& table) {
  std::vector<const FaultForm*> all;
  for (const FaultForm& form : faults_of_every_part()) all.push_back(&form);
  for (const FaultForm& form : table.faults) all.push_back(&form);
  return all;
}

std::vector<const FaultForm*> all_faults() {
  std::vector<const FaultForm*> all;
  const auto add = [&](const FaultForm& form) {
    if (!find_fault(all, form.kind)) all.push_back(&form);
  };
  for (const FaultForm& form : faults_of_every_part()) add(form);
  for (const ModelTable* table : catalogue()) {
    for (const FaultForm& form : table->faults) add(form);
  }
  for (const FaultForm& form : faults_of_the_site()) add(form);
  return all;
}

const FaultForm* find_fault(const std::vector<const FaultForm*>& forms, const std::string& kind) {
  for (const FaultForm* form : forms) {
    if (form->kind == kind) return form;
  }
  return nullptr;
}

std::string details_of(const TimedFault& fault) {
  const FaultForm* form = find_fault(all_faults(), fault.kind);
  std::string text;
  const FaultValues defaults;
  for (const Field& field : form->fields) {
    const std::string value = value_text(field, &fault.values);
    if (value.empty() || (!field.required && value == value_text(field, &defaults))) continue;
    text += (text.empty() ? "" : " ") + field.key + " " + value;
  }
  return text;
}

std::string text_of(const TimedFault& fault) {
  const std::string details = details_of(fault);
  return (fault.part.empty() ? "" : fault.part + " ") + fault.kind + (details.empty() ? "" : " " + details);
}

}  // namespace overwinter
