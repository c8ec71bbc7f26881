#include "sim/netlist/schema.hpp"

#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <utility>
#include <vector>

#include "models/catalogue.hpp"
#include "models/policy.hpp"
#include "sim/netlist/fault_section.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/line_reader.hpp"
#include "sim/netlist/part_classes.hpp"
#include "sim/netlist/part_reader.hpp"
#include "sim/netlist/requirements.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/netlist/site_fields.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/netlist/weather_fields.hpp"
#include "sim/site.hpp"

namespace overwinter {
namespace {

using Json = nlohmann::ordered_json;

const std::string number = number_pattern;
const std::string unit = "(1/|[^0-9\\s.,+/-])[^,]*";
const std::string name = "^[a-z][a-z0-9_-]*$";
const std::string net_name = "^[a-z0-9][a-z0-9+_.-]*$";
const std::string part_class_name = "^[a-z][a-z0-9_.-]*$";
const std::string port = "^[^.\\s]+[.][^\\s]+$";

bool is_ratio(const Unit& u) { return u.dimension == std::array<int, 6>{}; }
/// A temperature whose zero is not the zero of its unit.
bool is_on_a_scale(const Unit& u) { return in_unit(0, u) != 0; }

void set_limits(Json& json, const std::optional<Limit>& minimum, const std::optional<Limit>& maximum) {
  if (minimum) json[minimum->open ? "exclusiveMinimum" : "minimum"] = minimum->value;
  if (maximum) json[maximum->open ? "exclusiveMaximum" : "maximum"] = maximum->value;
}

std::string numbers(bool many) { return many ? "^\\s*(" + number + "\\s+)*" + number : "^\\s*" + number; }

Json text_with(std::string pattern) { return {{"type", "string"}, {"pattern", std::move(pattern)}}; }

/// Numbers with a unit behind them, which a zero does not need.
Json quantity_definition(bool zero_needs_unit, bool many) {
  Json any = Json::array({text_with(numbers(many) + "\\s*" + unit + "$")});
  if (!zero_needs_unit) {
    any.push_back({{"const", 0}});
    any.push_back(text_with(std::string("^\\s*([+-]?0([.]0*)?\\s*)") + (many ? "+$" : "$")));
  }
  return {{"anyOf", any}};
}

Json quantity(const Unit& u, const std::optional<Limit>& minimum, const std::optional<Limit>& maximum, bool many) {
  if (!is_ratio(u)) {
    const std::string definition = is_on_a_scale(u) ? "temperature" : "quantity";
    return {{"$ref", "#/definitions/" + definition + (many ? "-row" : "")}};
  }
  Json bare = {{"type", "number"}};
  set_limits(bare, minimum, maximum);
  return {{"anyOf", Json::array({bare, text_with(numbers(many) + "\\s*(" + unit + ")?$")})}};
}

Json axes(const Field& field) {
  Json properties = Json::object();
  Json required = Json::array();
  for (const Axis& axis : field.axes) {
    Json row = quantity(axis.unit, axis.minimum, axis.maximum, true);
    const bool rows = field.kind == FieldKind::map && &axis == &field.axes.back();
    if (rows) row = {{"type", "array"}, {"items", row}, {"minItems", 1}};
    properties[axis.key] = {{"description", axis.unit.text == "1" ? "numbers" : "numbers in " + axis.unit.text},
                            {"allOf", Json::array({row})}};
    required.push_back(axis.key);
  }
  return {{"type", "object"}, {"properties", properties}, {"required", required}, {"additionalProperties", false}};
}

void add_fields(const std::vector<Field>&, void* defaults, Json& properties, Json& required);

Json closed(Json properties, Json required) {
  return {{"type", "object"},
          {"properties", std::move(properties)},
          {"required", std::move(required)},
          {"additionalProperties", false}};
}

/// A mapping of these fields and nothing else.
Json mapping_of(const std::vector<Field>& fields, void* defaults) {
  Json properties = Json::object();
  Json required = Json::array();
  add_fields(fields, defaults, properties, required);
  return closed(std::move(properties), std::move(required));
}

/// `parameters` lend a row for the defaults of a list's columns.
Json value_of(const Field& field, void* parameters) {
  switch (field.kind) {
    case FieldKind::scalar:
      return quantity(field.unit, field.minimum, field.maximum, false);
    case FieldKind::count: {
      Json json = {{"type", "integer"}};
      set_limits(json, field.minimum, field.maximum);
      return json;
    }
    case FieldKind::flag:
      return {{"type", "boolean"}};
    case FieldKind::choice:
      return {{"enum", field.choices}};
    case FieldKind::text:
      return {{"type", {"string", "number", "boolean"}}, {"pattern", "\\S"}};
    case FieldKind::rows:
      return {{"type", "array"}, {"items", mapping_of(field.columns, field.add_row(parameters))}, {"minItems", 1}};
    case FieldKind::curve:
    case FieldKind::map:
      break;
  }
  return axes(field);
}

std::string description(const Field& field, const void* defaults) {
  std::string text = field.meaning + (field.meaning.empty() ? "" : ". ") + "Write " + written_form(field);
  const std::string range = range_text(field.minimum, field.maximum, field.unit);
  const std::string value = value_text(field, defaults);
  if (!range.empty()) text += ", " + range;
  if (!value.empty() && !field.required) text += ". Default: " + value;
  return text + ".";
}

/// null restores the default.
Json property(const Field& field, void* defaults) {
  const std::string text = description(field, defaults);
  return {{"description", text}, {"anyOf", Json::array({value_of(field, defaults), {{"type", "null"}}})}};
}

void add_fields(const std::vector<Field>& fields, void* defaults, Json& properties, Json& required) {
  for (const Field& field : fields) {
    properties[field.key] = property(field, defaults);
    if (field.required) required.push_back(field.key);
  }
}

/// The parameters of a part of one model; without a part class the required ones must be there.
Json part_of(const ModelTable& table) {
  Json properties = Json::object();
  for (const std::string& key : part_keys()) properties[key] = true;
  Json required = Json::array();
  add_fields(table.fields, table.new_parameters().get(), properties, required);
  Json json = {{"description", table.purpose}, {"properties", properties}, {"additionalProperties", false}};
  if (!required.empty()) {
    json["if"] = {{"not", {{"required", Json::array({"part"})}}}};
    json["then"] = {{"required", required}};
  }
  return json;
}

Json when(const char* key, const Json& values, const std::string& model) {
  return {{"if", {{"properties", {{key, {{"enum", values}}}}}, {"required", Json::array({key})}}},
          {"then", {{"$ref", "#/definitions/model-" + model}}}};
}

Json part() {
  const PartLibrary& library = PartLibrary::built_in();
  Json models = Json::array();
  Json rules = Json::array();
  for (const ModelTable* table : catalogue()) {
    models.push_back(table->name);
    rules.push_back(when("model", Json::array({table->name}), table->name));
    const std::vector<std::string> classes = library.names(table);
    if (!classes.empty()) rules.push_back(when("part", classes, table->name));
  }
  const Json built_in = {{"enum", library.names(nullptr)}};
  const Json from_file = {{"type", "string"}, {"pattern", part_class_name}};
  const Json properties = {{"model",
                            {{"description", "The model; may be left out where a part class is given."},
                             {"anyOf", Json::array({{{"enum", models}}, {{"type", "null"}}})}}},
                           {"part",
                            {{"description", "A built-in part class, or one from a file in part_files."},
                             {"anyOf", Json::array({built_in, from_file, {{"type", "null"}}})}}},
                           {"corners",
                            {{"description", "Of the part class: which of a parameter's corner values to take."},
                             {"type", {"object", "null"}},
                             {"additionalProperties", {{"enum", {"nominal", "low", "high"}}}}}}};
  return {{"type", "object"},
          {"properties", properties},
          {"anyOf", Json::array({{{"required", Json::array({"model"})}}, {{"required", Json::array({"part"})}}})},
          {"allOf", rules}};
}

Json named(const std::string& pattern, Json value) {
  return {{"type", "object"},
          {"minProperties", 1},
          {"propertyNames", {{"pattern", pattern}}},
          {"additionalProperties", std::move(value)}};
}

Json require() {
  Json properties = Json::object();
  for (const RequirementKind& k : requirement_kinds()) {
    RequirementLimit defaults;
    properties[k.name] = mapping_of(k.fields, &defaults);
    properties[k.name]["description"] = k.meaning + ".";
  }
  Json json = closed(std::move(properties), Json::array());
  json["minProperties"] = 1;
  return json;
}

Json weather() {
  WrittenTime time;
  WrittenColumn column;
  CsvFormat format;
  Json properties = {{"file", {{"type", "string"}, {"minLength", 1}}}};
  properties["time"] = mapping_of(time_fields(), &time);
  for (const WeatherColumn& c : weather_columns()) {
    properties[c.key] = mapping_of(column_fields(), &column);
    properties[c.key]["description"] = c.meaning + ".";
  }
  Json required = Json::array({"file"});
  add_fields(csv_fields(), &format, properties, required);
  const Json synthetic =
      closed({{"synthetic", {{"type", "string"}, {"minLength", 1}, {"description", "A climate file."}}},
              {"seed", {{"type", "integer"}, {"minimum", 0}, {"maximum", last_seed}}}},
             {"synthetic"});
  return {{"anyOf", Json::array({closed(std::move(properties), std::move(required)), synthetic})}};
}

/// One mapping for each kind, with the keys that it takes.
Json faults() {
  Json kinds = Json::array();
  for (const FaultForm* form : all_faults()) {
    FaultFrame frame;
    FaultValues values;
    Json properties = Json::object(), required = Json::array({"fault"});
    add_fields(fault_frame_fields(), &frame, properties, required);
    properties["fault"] = {{"description", form->meaning + "."}, {"const", form->kind}};
    const bool of_the_site = form->kind == cold_snap;
    if (of_the_site) {
      properties.erase("part");
    } else {
      required.push_back("part");
    }
    add_fields(form->fields, &values, properties, required);
    kinds.push_back(closed(std::move(properties), std::move(required)));
  }
  return {{"type", "array"}, {"items", {{"anyOf", kinds}}}, {"minItems", 1}};
}

Json line(const Json& port_name, const Json& ports) {
  PullUp pull_up;
  const Json one_or_many = Json::array({port_name, ports});
  return closed(
      {{"from",
        {{"description", "What drives the line: PART.OUTPUT, or a list of open-drain pins."}, {"anyOf", one_or_many}}},
       {"to",
        {{"description", "What listens: PART.INPUT, for open-drain pins PART.GATE, or a list."},
         {"anyOf", one_or_many}}},
       {"pull_up",
        {{"description", "The resistor that pulls a line of open-drain pins up."},
         {"anyOf", Json::array({mapping_of(pull_up_fields(), &pull_up), {{"type", "null"}}})}}}},
      {"from", "to"});
}

Json with(std::string text, Json json) {
  json["description"] = std::move(text);
  return json;
}

}  // namespace

Json scenario_schema() {
  const Json text = {{"type", "string"}, {"minLength", 1}};
  const Json day = {{"type", "string"}, {"pattern", "^[12][0-9]{3}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$"}};
  const Json port_name = {{"type", "string"}, {"pattern", port}};
  const Json ports = {{"type", "array"}, {"items", port_name}, {"minItems", 1}, {"uniqueItems", true}};
  Json nets = named(net_name, ports);
  nets["required"] = Json::array({"gnd"});

  Site site;
  PolicyParameters policy;
  Json schema = {{"$schema", "http://json-schema.org/draft-07/schema#"}, {"title", "overwinter scenario"}};
  schema.update(closed(
      {{"scenario", with("The title.", {{"type", {"string", "number", "boolean"}}})},
       {"site", with("Where the instrument stands; without it, where the weather file says.",
                     mapping_of(site_fields(), &site))},
       {"span",
        with("The first and the last day, both included.", closed({{"from", day}, {"to", day}}, {"from", "to"}))},
       {"weather", with("The weather file, relative to this file; of a CSV file also what its columns hold. Or "
                        "synthetic weather: the "
                        "file of a climate, and a seed.",
                        weather())},
       {"part_files", with("Files with part classes of your own, relative to this file.",
                           {{"type", "array"}, {"items", text}, {"minItems", 1}, {"uniqueItems", true}})},
       {"parts", with("The parts by name.", named(name, part()))},
       {"nets", with("The nets by name, each with its pins, PART.PIN; gnd is the reference.", nets)},
       {"lines", with("Signals from one part to others.", named(name, line(port_name, ports)))},
       {"policy", with("How long the instrument sleeps.", mapping_of(Policy::fields(), &policy))},
       {"require",
        with("What the design is held against; without it, a completed wake a day (or in each of the policy's "
             "longest intervals) and nobody called out.",
             require())},
       {"faults", with("What breaks, and for how long.", faults())}},
      {"span", "weather", "parts", "nets"}));
  Json& definitions = schema["definitions"] = Json::object();
  definitions["quantity"] = quantity_definition(false, false);
  definitions["quantity-row"] = quantity_definition(false, true);
  definitions["temperature"] = quantity_definition(true, false);
  definitions["temperature-row"] = quantity_definition(true, true);
  for (const ModelTable* table : catalogue()) definitions["model-" + table->name] = part_of(*table);
  return schema;
}

}  // namespace overwinter
