#include "sim/netlist/explain.hpp"

#include <algorithm>
#include <memory>
#include <utility>
#include <vector>

#include "models/catalogue.hpp"
#include "models/policy.hpp"
#include "sim/mechanisms/mechanisms.hpp"
#include "sim/netlist/binder.hpp"
#include "sim/netlist/corners.hpp"
#include "sim/netlist/fault_section.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/requirements.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/netlist/weather_fields.hpp"
#include "sim/text.hpp"
#include "sim/why/knob_kinds.hpp"

namespace overwinter {
namespace {

constexpr std::size_t page_width = 100;

/// Breaks `text` at blanks and indents what follows the first line.
std::string wrapped(const std::string& text, std::size_t indent) {
  std::string result;
  std::size_t column = indent;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    const std::string word = text.substr(at, end - at);
    const auto width = static_cast<std::size_t>(characters(word));
    if (at > 0 && column + 1 + width > page_width) {
      result += "\n" + std::string(indent, ' ');
      column = indent;
    } else if (at > 0) {
      result += ' ';
      ++column;
    }
    result += word;
    column += width;
    at = end + 1;
  }
  return result;
}

/// Rows of a name and what is to be said about it, under a heading.
class Section {
 public:
  explicit Section(std::string heading) : heading_(std::move(heading)) {}
  void add(std::string name, std::vector<std::string> lines) {
    lines.erase(std::remove(lines.begin(), lines.end(), std::string()), lines.end());
    rows_.emplace_back(std::move(name), std::move(lines));
  }
  /// Empty without rows.
  std::string text() const {
    if (rows_.empty()) return {};
    std::size_t width = 0;
    for (const auto& [name, lines] : rows_) width = std::max(width, name.size());
    const std::size_t indent = width + 4;
    std::string result = "\n" + heading_ + "\n";
    for (const auto& [name, lines] : rows_) {
      result += "  " + name;
      for (std::size_t i = 0; i < lines.size(); ++i) {
        result += (i ? "\n" + std::string(indent, ' ') : std::string(indent - 2 - name.size(), ' ')) +
                  wrapped(lines[i], indent);
      }
      result += "\n";
    }
    return result;
  }

 private:
  std::string heading_;
  std::vector<std::pair<std::string, std::vector<std::string>>> rows_;
};

std::string in_brackets(const std::string& text) { return text.empty() ? "" : "[" + text + "]"; }

std::string unit_name(const Unit& unit) { return unit.text == "1" ? "" : " (" + unit.text + ")"; }

std::string use_of(PinRole role) {
  switch (role) {
    case PinRole::open_drain:
      return "open drain: may drive a line by pulling it down";
    case PinRole::gate:
      return "gate: listens to the voltage of a line";
    case PinRole::power:
      break;
  }
  return {};
}

/// `defaults` are a parameter struct of the caller's own: a row is added to them for the defaults of its columns.
void add_parameter(const Field& field, void* defaults, Section& section, const std::string& indent = "") {
  std::string range = range_text(field.minimum, field.maximum, field.unit);
  const std::string value = value_text(field, defaults);
  std::string facts = written_form(field);
  if (!range.empty()) facts += "; " + range;
  if (field.required) {
    facts += "; required";
  } else {
    facts += value.empty() ? "; may be left out" : "; default " + value;
  }
  if (!field.axes.empty()) {
    for (const Axis& axis : field.axes) {
      range = range_text(axis.minimum, axis.maximum, axis.unit);
      if (!range.empty()) facts += "; " + axis.key + " " + range;
    }
    const bool is_curve = field.kind == FieldKind::curve;
    facts += is_curve ? "; " + name_of(field.interpolation) + " between the points, " + name_of(field.outside)
                      : "; bilinear between the points, end values held";
  }
  section.add(indent + field.key, {field.meaning, facts, in_brackets(field.source)});
  if (field.kind != FieldKind::rows) return;
  void* row = field.add_row(defaults);
  for (const Field& column : field.columns) add_parameter(column, row, section, indent + "  ");
}

std::string flow_role(FlowKind kind) {
  switch (kind) {
    case FlowKind::source:
      return "enters the system";
    case FlowKind::delivered:
      return "delivered work";
    case FlowKind::lost:
      return "turned into heat";
    case FlowKind::stored:
      return "into a store";
    case FlowKind::offered:
      return "could be harvested";
    default:
      return name_of(kind) + ", outside the balance";
  }
}

/// A section of scenarios, or of results, that `explain` knows.
struct ScenarioSection {
  const char *name, *purpose;
  std::string (*parameters)();
};

std::string policy_parameters() {
  PolicyParameters defaults;
  Section parameters("parameters");
  for (const Field& field : Policy::fields()) add_parameter(field, &defaults, parameters);
  return parameters.text();
}

std::string requirements() {
  Section all("requirements");
  for (const RequirementKind& k : requirement_kinds()) {
    std::string form;
    for (const Field& field : k.fields) form += (form.empty() ? "" : ", ") + field.key + ": " + written_form(field);
    std::vector<std::string> lines = {k.meaning, k.name + ": {" + form + "}"};
    RequirementLimit defaults;
    for (std::size_t i = 1; i < k.fields.size(); ++i) {
      const Field& field = k.fields[i];
      lines.push_back(field.key + ": " + field.meaning + "; default " + value_text(field, &defaults));
    }
    all.add(k.name, std::move(lines));
  }
  Section always("what holds wherever the section does not name it; of an instrument that does not wake, no damage");
  Section otherwise("what also holds of a scenario that wakes and has no such section");
  Requirements defaults;
  add_defaults({true, false, nullptr, {}}, defaults);
  for (const Requirement& r : defaults.all) {
    const auto kind = std::find_if(requirement_kinds().begin(), requirement_kinds().end(),
                                   [&](const RequirementKind& k) { return k.name == r.name; });
    (kind->standing == Standing::always ? always : otherwise)
        .add(r.name, {(r.at_most ? "at_most: " : "at_least: ") + quantity_text(r.limit, r.unit),
                      r.name == "longest_gap" ? "where the policy sleeps longer than a day, its longest interval "
                                                "and one hour"
                                              : ""});
  }
  return all.text() + always.text() + otherwise.text();
}

std::string weather() {
  const std::string example =
      "    weather:\n"
      "      file: mast.csv\n"
      "      time: {column: Time, stamp: end}\n"
      "      global_horizontal: {column: GHI, unit: W/m2}\n"
      "      air_temperature: {column: T, unit: degC}\n";
  Section columns("columns of a CSV file: the air temperature, and global light or direct and diffuse light");
  columns.add("time", {"when the row was recorded"});
  for (const WeatherColumn& c : weather_columns()) columns.add(c.key, {c.meaning});
  Section of_time("keys of time"), of_column("keys of the other columns"), of_file("keys of the file");
  WrittenTime time;
  WrittenColumn column;
  CsvFormat format;
  for (const Field& field : time_fields()) add_parameter(field, &time, of_time);
  for (const Field& field : column_fields()) add_parameter(field, &column, of_column);
  for (const Field& field : csv_fields()) add_parameter(field, &format, of_file);
  return "\n  A file in the EPW layout needs nothing else: weather: {file: FILE}. Synthetic weather is drawn from the "
         "monthly\n"
         "  means of a climate, such as tools/weather_maker/upland-bog.yaml, each calendar year anew; without a seed, "
         "1:\n\n"
         "    weather: {synthetic: CLIMATE.yaml, seed: 7}\n\n  A CSV file:\n\n" +
         example + columns.text() + of_time.text() + of_column.text() + of_file.text();
}

std::string values_of(const FaultForm& form) {
  std::string text;
  const FaultValues defaults;
  for (const Field& field : form.fields) {
    const std::string value = value_text(field, &defaults);
    const std::string range = range_text(field.minimum, field.maximum, field.unit);
    text += (text.empty() ? "" : "; ") + field.key + ": " + written_form(field) + ", " + field.meaning +
            (range.empty() ? "" : ", " + range) +
            (field.required  ? ""
             : value.empty() ? ", may be left out"
                             : ", default " + value);
  }
  return text;
}

std::string faults() {
  Section keys("keys of each"), every("of every part"), site("of the site");
  for (const Field& field : fault_frame_fields()) keys.add(field.key, {field.meaning});
  for (const FaultForm& form : faults_of_every_part()) every.add(form.kind, {form.meaning, values_of(form)});
  for (const FaultForm& form : faults_of_the_site()) site.add(form.kind, {form.meaning, values_of(form)});
  std::string text =
      "\n  A list; the option --fault of `run` adds to it. Times are in the site's standard time; in a span that "
      "begins in"
      "\n  another year (--years) a fault keeps its distance from the span's first day.\n\n"
      "    faults:\n"
      "      - {part: panel-south, fault: soiled, by: 60 %, at: 2025-01-10 06:00, for: 5 d}\n"
      "      - {fault: cold-snap, by: 15 K, at: 2025-01-12, for: 3 d}\n\n"
      "    overwinter run FILE --fault \"logger retries phase send times 10 at 2025-01-10 for 2 d\"\n";
  text += keys.text() + every.text();
  for (const ModelTable* table : catalogue()) {
    Section own("of a " + table->name);
    for (const FaultForm& form : table->faults) own.add(form.kind, {form.meaning, values_of(form)});
    text += own.text();
  }
  return text + site.text();
}

std::string mechanism_ids() {
  Section all("mechanisms");
  for (const Mechanism& m : mechanisms()) all.add(m.id, {m.what, "removed by: " + m.removal});
  all.add(by_fault, {"as the cause id of a brown-out: a fault that was given, and none of these at work"});
  all.add(unexplained,
          {"as the cause id of a brown-out: none of these accounts for it alone; see the chain of events"});
  return all.text();
}

const std::vector<ScenarioSection>& section_purposes() {
  static const std::vector<ScenarioSection> sections = {
      {"policy", "How long the instrument sleeps; a section of the scenario.", policy_parameters},
      {"weather", "Where light and air temperature come from; a section of the scenario.", weather},
      {"require", "What the design is held against; a section of the scenario.", requirements},
      {"faults", "What breaks, for how long; a section of the scenario, and the option `--fault`.", faults},
      {"mechanisms", "What can be behind a brown-out or keep an instrument down: ids in the results.", mechanism_ids},
      {"cures", "What `why` proposes against a brown-out, in which order, and what it takes for no cure.", cures_text},
  };
  return sections;
}

}  // namespace

std::string explain_all() {
  std::string text = "`overwinter explain NAME` says all about one of these.\n";
  Section models("models");
  for (const ModelTable* table : catalogue()) models.add(table->name, {table->purpose});
  Section classes("part classes");
  for (const auto& [name, c] : PartLibrary::built_in().all()) classes.add(name, {c.table->name + ": " + c.note});
  Section sections("sections of a scenario, and what results name");
  for (const ScenarioSection& section : section_purposes()) sections.add(section.name, {section.purpose});
  return text + models.text() + classes.text() + sections.text();
}

std::string explain(const ModelTable& table) {
  std::string text = table.name + "\n  " + wrapped(table.purpose, 2) + "\n";

  Section pins("pins");
  for (const Pin& pin : table.pins) pins.add(pin.name, {pin.meaning, use_of(pin.role)});
  Section lines("lines");
  for (const LineOutput& port : table.line_outputs)
    lines.add(port.name, {name_of(port.kind) + " output: " + port.meaning});
  for (const LineInput& port : table.line_inputs)
    lines.add(port.name, {name_of(port.kind) + " input: " + port.meaning});

  Section parameters("parameters");
  const std::shared_ptr<void> defaults = table.new_parameters();
  for (const Field& field : table.fields) add_parameter(field, defaults.get(), parameters);

  Section equations("equations");
  for (const Equation& e : table.equations) equations.add("(" + e.number + ")", {e.text, in_brackets(e.source)});
  Section states("states");
  for (const State& state : table.states) states.add(state.name, {state.meaning + unit_name(state.unit)});
  Section unknowns("solved with the network");
  for (const Unknown& unknown : table.unknowns) unknowns.add(unknown.name, {unknown.meaning + unit_name(unknown.unit)});
  Section outputs("outputs");
  for (const Output& output : table.outputs) {
    std::string labels;
    for (std::size_t i = 0; i < output.labels.size(); ++i) {
      labels += (i ? ", " : "") + std::to_string(i) + " " + output.labels[i];
    }
    const bool refuses = output.name == table.refusal_output;
    outputs.add(output.name, {output.meaning + unit_name(output.unit), labels,
                              refuses ? "it says why less than the offered harvest is taken" : ""});
  }
  Section flows("energy flows");
  for (const Flow& flow : table.flows)
    flows.add(flow.name, {flow_role(flow.kind) + unit_name(flow.unit) + ": " + flow.meaning});
  Section events("events");
  for (const Event& event : table.events) {
    if (event.role != EventRole::damage) events.add(event.name, {event.meaning});
  }
  Section limits("limits beyond which it is damaged; that it goes beyond is an event too");
  for (const AbsoluteLimit& limit : table.limits) {
    limits.add(limit.name, {table.events[limit.event].meaning, "kept by: " + limit.remedy});
  }
  Section faults("faults that it can be given, see `overwinter explain faults`");
  for (const FaultForm* form : faults_of(table)) faults.add(form->kind, {form->meaning, values_of(*form)});
  Section classes("part classes");
  for (const auto& [name, c] : PartLibrary::built_in().all()) {
    if (c.table == &table) classes.add(name, {c.note});
  }
  for (const Section* section : {&pins, &lines, &parameters, &equations, &states, &unknowns, &outputs, &flows, &events,
                                 &limits, &faults, &classes}) {
    text += section->text();
  }
  return text;
}

std::string explain(const PartClass& c) {
  std::string text = c.name + "\n  " +
                     wrapped("part class of model " + c.table->name + (c.note.empty() ? "" : ": " + c.note), 2) + "\n";
  const WrittenValues written = written_values(c);
  Faults none;
  const std::shared_ptr<void> values = c.table->new_parameters();
  bind_fields(c.table->fields, written, values.get(), none);
  Section given("parameters of the class");
  Section others("parameters that the class leaves to the scenario or the model");
  for (const Field& field : c.table->fields) {
    const auto found = written.find(field.key);
    const std::string value = value_text(field, values.get());
    if (found != written.end()) {
      const std::string comment = c.document->comment(*c.entry->value.find(field.key));
      given.add(field.key, {value, corners_text(c, field), field.meaning, in_brackets(comment)});
    } else {
      others.add(field.key, {value.empty() ? (field.required ? "required" : "none") : value, field.meaning});
    }
  }
  return text + given.text() + others.text();
}

std::string explain(const std::string& name) {
  if (name.empty()) return explain_all();
  if (const ModelTable* table = find_model(name)) return explain(*table);
  const PartLibrary& library = PartLibrary::built_in();
  if (const PartClass* c = library.find(name)) return explain(*c);
  std::vector<std::string> known = library.names(nullptr);
  for (const ScenarioSection& section : section_purposes()) {
    if (section.name == name) return name + "\n  " + section.purpose + "\n" + section.parameters();
    known.push_back(section.name);
  }
  for (const ModelTable* table : catalogue()) known.push_back(table->name);
  Fault fault;
  fault.message = "there is no model or part class " + in_quotes(name);
  fault.suggestion = suggested(name, known);
  if (fault.suggestion.empty()) fault.suggestion = "`overwinter explain` without a name lists them";
  throw InputError({fault});
}

}  // namespace overwinter
