#include "sim/netlist/schema.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <regex>

#include "models/catalogue.hpp"
#include "sim/netlist/part_classes.hpp"
#include "sim/netlist/part_reader.hpp"
#include "sim/netlist/units_text.hpp"

using namespace overwinter;
using Json = nlohmann::ordered_json;

namespace {

bool accepts(const Json& root, const Json& schema, const Json& value);

bool accepts_object(const Json& root, const Json& schema, const Json& value) {
  if (!value.is_object() || value.size() < schema.value("minProperties", 0u)) return false;
  for (const Json& key : schema.value("required", Json::array())) {
    if (!value.contains(key.get<std::string>())) return false;
  }
  for (const auto& [key, child] : value.items()) {
    if (schema.at("properties").contains(key)) {
      if (!accepts(root, schema.at("properties").at(key), child)) return false;
    } else if (schema.at("additionalProperties") == false) {
      return false;
    }
  }
  return true;
}

bool accepts_array(const Json& root, const Json& schema, const Json& value) {
  if (!value.is_array() || value.size() < schema.value("minItems", 0u)) return false;
  return std::all_of(value.begin(), value.end(),
                     [&](const Json& item) { return accepts(root, schema.at("items"), item); });
}

/// Checks a value against the keywords that the scenario schema uses for values.
bool accepts(const Json& root, const Json& schema, const Json& value) {
  if (schema.contains("$ref")) {
    const std::string reference = schema["$ref"];
    return accepts(root, root.at(Json::json_pointer(reference.substr(1))), value);
  }
  if (schema.contains("anyOf")) {
    for (const Json& option : schema["anyOf"]) {
      if (accepts(root, option, value)) return true;
    }
    return false;
  }
  if (schema.contains("const")) return schema["const"] == value;
  if (schema.contains("enum"))
    return std::find(schema["enum"].begin(), schema["enum"].end(), value) != schema["enum"].end();
  if (schema.at("type").is_array()) {
    Json one = schema;
    for (const Json& type : schema.at("type")) {
      one["type"] = type;
      if (accepts(root, one, value)) return true;
    }
    return false;
  }
  const std::string type = schema.at("type");
  if (type == "object") return accepts_object(root, schema, value);
  if (type == "array") return accepts_array(root, schema, value);
  if (type == "null") return value.is_null();
  if (type == "boolean") return value.is_boolean();
  if (type == "string") {
    return value.is_string() && std::regex_search(value.get<std::string>(), std::regex(schema.value("pattern", "")));
  }
  if (type == "integer" && !value.is_number_integer()) return false;
  if (!value.is_number()) return false;
  const double number = value;
  return number >= schema.value("minimum", -1e300) && number <= schema.value("maximum", 1e300) &&
         number > schema.value("exclusiveMinimum", -1e300) && number < schema.value("exclusiveMaximum", 1e300);
}

const Json& schema() {
  static const Json all = scenario_schema();
  return all;
}

bool field_accepts(const std::string& model, const std::string& key, const Json& value) {
  return accepts(schema(), schema().at("definitions").at("model-" + model).at("properties").at(key), value);
}

}  // namespace

TEST_CASE("the schema's frame") {
  CHECK(schema().at("$schema") == "http://json-schema.org/draft-07/schema#");
  CHECK(schema().at("required") == Json::array({"span", "weather", "parts", "nets"}));
  CHECK(schema().at("additionalProperties") == false);
  for (const char* key :
       {"scenario", "site", "span", "weather", "part_files", "parts", "nets", "lines", "policy", "require", "faults"}) {
    CHECK(schema().at("properties").contains(key));
    CHECK(schema().at("properties").at(key).contains("description"));
  }
}

TEST_CASE("the weather section: a file alone, and the columns of a CSV file") {
  const Json weather = schema().at("properties").at("weather");
  const auto takes = [&](Json value) { return accepts(schema(), weather, value); };
  CHECK(takes({{"file", "moor.epw"}}));
  Json csv = {{"file", "mast.csv"},
              {"time", {{"column", "Time"}, {"stamp", "end"}, {"utc_offset", "1 h"}}},
              {"global_horizontal", {{"column", 2}, {"unit", "W/m2"}}},
              {"air_temperature", {{"column", "T"}, {"unit", "degC"}}},
              {"separator", "semicolon"},
              {"missing", -999},
              {"fill", "2 h"}};
  CHECK(takes(csv));
  csv["time"]["stamp"] = "start";
  CHECK(!takes(csv));
  CHECK(!takes({{"file", "mast.csv"}, {"rain", {{"column", "R"}, {"unit", "mm"}}}}));
  CHECK(!takes({{"separator", "comma"}}));
  CHECK(takes({{"synthetic", "moor.yaml"}, {"seed", 7}}));
  CHECK(takes({{"synthetic", "moor.yaml"}}));
  CHECK(!takes({{"seed", 7}}));
  CHECK(!takes({{"synthetic", "moor.yaml"}, {"file", "moor.epw"}}));
}

TEST_CASE("every parameter of every model is in the schema, with its meaning") {
  for (const ModelTable* table : catalogue()) {
    CAPTURE(table->name);
    const Json& model = schema().at("definitions").at("model-" + table->name);
    CHECK(model.at("properties").size() == table->fields.size() + part_keys().size());
    CHECK(model.at("additionalProperties") == false);
    for (const Field& field : table->fields) {
      const std::string description = model.at("properties").at(field.key).at("description");
      CHECK(description.find(field.meaning) == 0);
      const Json required = model.contains("then") ? model.at("then").at("required") : Json::array();
      CHECK((std::find(required.begin(), required.end(), field.key) != required.end()) == field.required);
    }
  }
}

TEST_CASE("models and part classes choose their definition") {
  const Json& part = schema().at("properties").at("parts").at("additionalProperties");
  std::size_t rules = 0;
  for (const ModelTable* table : catalogue()) rules += PartLibrary::built_in().names(table).empty() ? 1 : 2;
  CHECK(part.at("allOf").size() == rules);
  CHECK(part.at("properties").at("part").at("anyOf").at(0).at("enum").size() == PartLibrary::built_in().all().size());
}

TEST_CASE("values") {
  CHECK(field_accepts("resistor", "resistance", "3 ohm"));
  CHECK(field_accepts("resistor", "resistance", "3ohm"));
  CHECK(field_accepts("resistor", "resistance", "4.7e3 Ω"));
  CHECK(field_accepts("resistor", "resistance", nullptr));
  CHECK_FALSE(field_accepts("resistor", "resistance", 3));
  CHECK_FALSE(field_accepts("resistor", "resistance", "3"));
  CHECK_FALSE(field_accepts("resistor", "resistance", "012 ohm"));
  CHECK_FALSE(field_accepts("resistor", "resistance", ".nan ohm"));
  CHECK(field_accepts("resistor", "temperature_coefficient", "0.00393 1/K"));
  CHECK(field_accepts("resistor", "temperature_coefficient", 0));
  CHECK(field_accepts("cell", "charge", "80 %"));
  CHECK(field_accepts("cell", "charge", 0.8));
  CHECK(field_accepts("cell", "charge", "0.8"));
  CHECK_FALSE(field_accepts("cell", "charge", 80));
  CHECK(field_accepts("linear-charger", "cold_limit", "-10 degC"));
  CHECK_FALSE(field_accepts("linear-charger", "cold_limit", 0));
  CHECK(field_accepts("linear-charger", "temperature_hysteresis", 0));
  CHECK(field_accepts("load", "kind", "power"));
  CHECK_FALSE(field_accepts("load", "kind", "pwer"));
}

TEST_CASE("the schema accepts whatever text the parser accepts") {
  const Unit volt = unit_of<Voltage>("V"), percent = unit_of<double>("%"), scale = unit_of<Temperature>("degC");
  const Unit per_kelvin = unit_of<PerKelvin>("1/K");
  const struct {
    const Unit& unit;
    const char *definition, *row;
  } kinds[] = {{volt, "quantity", "quantity-row"},
               {per_kelvin, "quantity", "quantity-row"},
               {scale, "temperature", "temperature-row"}};
  const std::vector<std::string> texts = {
      "0",     "0.0",     "-0",      "0 0",      "1 V",      "1V",         " 1  V ", "1e3 mV", ".5 V",
      "5. V",  "+5 V",    "1 2 3 V", "1 2 3V",   "-1 0 1 V", "1 degC",     "1 °C",   "1 2 K",  "0 K",
      "1 1/K", "1 %/K",   "1 2 1/K", "-1 0 1/K", "0 1 degC", "1 uV",       "1 µV",   "1 (V)",  "1 V/1",
      "1 J/C", "1 J C-1", "1 J.C-1", "1 W A^-1", "1 volt",   "1 millivolt"};
  TextFault why;
  int accepted = 0;
  for (const auto& kind : kinds) {
    for (const std::string& text : texts) {
      CAPTURE(text);
      if (parse_quantity("key", text, kind.unit, why)) {
        ++accepted;
        CHECK(accepts(schema(), schema().at("definitions").at(kind.definition), text));
      }
      if (parse_row("key", text, kind.unit, why))
        CHECK(accepts(schema(), schema().at("definitions").at(kind.row), text));
    }
  }
  CHECK(accepted > 20);
  for (const char* text : {"0", "80 %", "80%", "0.8", "1e-1", ".5", "8 percent"}) {
    CAPTURE(text);
    CHECK(parse_quantity("key", text, percent, why).has_value());
    CHECK(field_accepts("cell", "charge", text));
  }
}

TEST_CASE("sections as objects") {
  const auto section = [](const char* name, const char* value) {
    CAPTURE(value);
    return accepts(schema(), schema().at("properties").at(name), Json::parse(value));
  };
  CHECK(section("policy", R"({"every": "30 min"})"));
  CHECK(
      section("policy", R"({"table": [{"below": "3.5 V", "every": "6 h"}, {"every": "1 h"}], "hysteresis": "60 mV"})"));
  CHECK(section("policy", R"({"table": [{"below": null, "every": "6 h"}]})"));
  CHECK_FALSE(section("policy", R"({"table": []})"));
  CHECK_FALSE(section("policy", R"({"table": [{"below": "3.5 V"}]})"));
  CHECK_FALSE(section("policy", R"({"table": [{"every": "6 h", "above": "3.5 V"}]})"));
  CHECK_FALSE(section("policy", R"({"evry": "6 h"})"));
  CHECK(section("require", R"({"longest_gap": {"at_most": "24 h"}, "needs_human": {"at_most": 0, "sunny_days": 5}})"));
  CHECK(section("require", R"({"lowest_charge": {"at_least": "20 %"}, "downtime": {"at_most": 0.1}})"));
  CHECK_FALSE(section("require", R"({"longest_gap": {"at_least": "24 h"}})"));
  CHECK_FALSE(section("require", R"({"longest_gap": {}})"));
  CHECK_FALSE(section("require", R"({"longest_gap": "24 h"})"));
  CHECK_FALSE(section("require", R"({"brownouts": {"at_most": 1.5}})"));
  CHECK_FALSE(section("require", R"({"brownouts": {"at_most": 0, "sunny_days": 5}})"));
  CHECK_FALSE(section("require", R"({"brown_outs": {"at_most": 0}})"));
  CHECK_FALSE(section("require", R"({})"));
}

TEST_CASE("lines with several ends and a pull-up") {
  const Json& line = schema().at("properties").at("lines").at("additionalProperties");
  const auto one = [&](const char* value) { return accepts(schema(), line, Json::parse(value)); };
  CHECK(one(R"({"from": "a.b", "to": "c.d"})"));
  CHECK(one(R"({"from": ["a.b", "e.f"], "to": ["c.d"], "pull_up": {"net": "rail", "resistance": "100 kohm"}})"));
  CHECK(one(R"({"from": "a.b", "to": "c.d", "pull_up": {"net": "r", "resistance": "1 kohm", "series": "1 kohm"}})"));
  CHECK_FALSE(one(R"({"from": "a.b", "to": "c.d", "pull_up": {"net": "rail"}})"));
  CHECK_FALSE(one(R"({"from": "a.b", "to": "c.d", "pull_up": {"net": "", "resistance": "100 kohm"}})"));
  CHECK_FALSE(one(R"({"from": "a.b", "to": "c.d", "pull_up": "100 kohm"})"));
  CHECK_FALSE(one(R"({"from": [], "to": "c.d"})"));
  CHECK_FALSE(one(R"({"from": "a.b"})"));
}

TEST_CASE("a list of rows is an array of closed objects") {
  const auto phases = [](const char* value) { return field_accepts("controller", "phases", Json::parse(value)); };
  CHECK(phases(R"([{"name": "boot", "duration": "2 s", "current": "8 mA", "out_1": true}])"));
  CHECK(phases(R"([{"name": 1, "duration": "2 s"}])"));
  CHECK_FALSE(phases(R"([{"name": " ", "duration": "2 s"}])"));
  CHECK_FALSE(phases(R"([{"name": "boot"}])"));
  CHECK_FALSE(phases(R"([{"name": "boot", "duration": "2 s", "out_1": "yes"}])"));
  CHECK_FALSE(phases(R"([{"name": "boot", "duration": "2 s", "out_9": true}])"));
  CHECK_FALSE(phases(R"([])"));
  CHECK_FALSE(phases(R"({"name": "boot", "duration": "2 s"})"));
}

TEST_CASE("a fault is one of its kinds, with what that takes") {
  const Json faults = schema().at("properties").at("faults");
  const auto takes = [&](const char* text) { return accepts(schema(), faults, Json::array({Json::parse(text)})); };
  CHECK(takes(R"({"part": "panel", "fault": "soiled", "by": "60 %", "at": "2025-01-10 06:00", "for": "5 d"})"));
  CHECK(takes(R"({"part": "panel", "fault": "open"})"));
  CHECK(takes(R"({"fault": "cold-snap", "by": "15 K"})"));
  CHECK(takes(R"({"part": "logger", "fault": "retries", "phase": "send", "times": 10})"));
  CHECK(!takes(R"({"part": "panel", "fault": "soiled"})"));
  CHECK(!takes(R"({"part": "panel", "fault": "open", "by": "60 %"})"));
  CHECK(!takes(R"({"fault": "open"})"));
  CHECK(!takes(R"({"part": "panel", "fault": "cold-snap", "by": "15 K"})"));
  CHECK(!takes(R"({"part": "panel", "fault": "rusty"})"));
  CHECK(!accepts(schema(), faults, Json::array()));
}
