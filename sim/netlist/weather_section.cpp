#include "sim/netlist/weather_section.hpp"

#include <algorithm>
#include <string>
#include <utility>
#include <vector>

#include "sim/netlist/binder.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/netlist/weather_fields.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

const std::string time_key = "time";

class LayoutReader {
 public:
  LayoutReader(const Document& d, const Node::Entry& section, Faults& faults)
      : d_(d), section_(section), faults_(faults), before_(faults.size()) {}

  std::optional<CsvLayout> read(bool has_site) {
    std::vector<std::string> others = {"file", "synthetic", "seed", time_key};
    for (const WeatherColumn& c : weather_columns()) others.push_back(c.key);
    WrittenValues written;
    meant_ = collect(csv_fields(), others, "weather", d_, section_.value, written, faults_);
    const bool columns = std::any_of(others.begin() + 3, others.end(), [&](auto& k) { return section_.value.find(k); });
    if (!columns && written.empty()) return std::nullopt;
    CsvLayout layout;
    bind_fields(csv_fields(), written, &layout.format, faults_);
    if (layout.format.rows_from.value_or(layout.format.header + 1) <= layout.format.header) {
      faults_.add(d_.fault(written.at("rows_from").entry->value, "the rows begin at the header or above it",
                           "rows_from: " + std::to_string(layout.format.header + 1)));
    }
    read_time(layout.time);
    for (const WeatherColumn& c : weather_columns()) {
      const std::optional<CsvColumn> column = read_column(c);
      if (!column) continue;
      if (c.key == "global_horizontal") layout.global_horizontal = column;
      if (c.key == "direct_normal") layout.direct_normal = column;
      if (c.key == "diffuse_horizontal") layout.diffuse_horizontal = column;
      if (c.key == "air_temperature") layout.air = *column;
    }
    check_complete();
    if (faults_.size() == before_ && !has_site) {
      faults_.add(d_.fault(section_.key, "a CSV file does not say where it was recorded, and the scenario has no site",
                           "site: {latitude: NUMBER deg, longitude: NUMBER deg, elevation: NUMBER m, utc_offset: "
                           "NUMBER h}"));
    }
    if (faults_.size() != before_) return std::nullopt;
    return layout;
  }

 private:
  const Node::Entry* mapping(const std::string& key, const std::vector<Field>& fields, WrittenValues& written,
                             void* values) {
    const Node::Entry* entry = section_.value.find(key);
    if (!entry || entry->value.is_refused()) return nullptr;
    if (!entry->value.is_mapping()) {
      faults_.add(d_.fault(entry->value.is_null() ? entry->key : entry->value,
                           key + " must be a mapping, not " + described(entry->value), form(key, fields)));
      return nullptr;
    }
    const std::size_t before = faults_.size();
    collect(fields, {}, key, d_, entry->value, written, faults_);
    bind_fields(fields, written, values, faults_);
    const std::vector<const Field*> missing = missing_fields(fields, written);
    if (!missing.empty() && !entry->value.incomplete) {
      std::vector<std::string> keys;
      for (const Field* field : missing) keys.push_back(field->key);
      faults_.add(d_.fault(entry->key, key + " lacks " + listed(keys), how_to_write(missing)));
    }
    return faults_.size() == before ? entry : nullptr;
  }

  static std::string form(const std::string& key, const std::vector<Field>& fields) {
    std::string text;
    for (const Field& field : fields) {
      if (field.required) text += (text.empty() ? "" : ", ") + field.key + ": " + written_form(field);
    }
    return key + ": {" + text + "}";
  }

  CsvColumn named(const std::string& key, const std::string& name, const Node& at) const {
    CsvColumn column;
    column.key = key;
    column.name = name;
    column.named_at = d_.other(at, "the scenario names it here");
    return column;
  }

  /// True where the text is a unit of the kind, whose scale and offset are then set.
  static bool set_unit(const Unit& kind, CsvColumn& column, TextFault& why) {
    const auto at = [&](const char* number) {
      return parse_quantity(column.key, number + (" " + column.unit), kind, why);
    };
    const std::optional<double> zero = at("0"), one = at("1");
    if (!zero || !one) return false;
    column.offset = *zero;
    column.scale = *one - *zero;
    return true;
  }

  void fault_of_unit(const Node& value, TextFault why, const Unit& kind) {
    const std::string number = "1 ";
    const bool respelled = why.suggestion.compare(0, number.size(), number) == 0;
    faults_.add(
        d_.fault(value, why.message, "unit: " + (respelled ? why.suggestion.substr(number.size()) : kind.text)));
  }

  std::optional<CsvColumn> read_column(const WeatherColumn& c) {
    WrittenValues written;
    WrittenColumn values;
    const Node::Entry* entry = mapping(c.key, column_fields(), written, &values);
    if (!entry) return std::nullopt;
    CsvColumn column = named(c.key, values.column, written.at("column").entry->value);
    column.unit = values.unit;
    TextFault why, unused;
    if (set_unit(c.unit, column, why)) return column;
    if (c.light && set_unit(light_sum(), column, unused)) {
      column.sum = true;
      return column;
    }
    fault_of_unit(written.at("unit").entry->value, why, c.unit);
    return std::nullopt;
  }

  void read_time(CsvTime& time) {
    WrittenValues written;
    WrittenTime values;
    if (!mapping(time_key, time_fields(), written, &values)) return;
    const auto node = [&](const std::string& key) -> const Node& { return written.at(key).entry->value; };
    time.column = named(time_key, values.column, node("column"));
    time.utc_offset = values.utc_offset;
    time.stamp = values.stamp;
    if (!values.clock.empty()) time.clock = named(time_key, values.clock, node("clock"));
    if (!values.unit.empty() || !values.since.empty()) return read_count(values, written, time);
    if (values.form.empty()) return;
    TextFault why;
    const std::optional<TimeForm> form = TimeForm::parse("form", values.form, why);
    if (form) {
      time.form = *form;
    } else {
      faults_.add(d_.fault(node("form"), why.offset, why.length, why.message, why.suggestion));
    }
  }

  /// A column of numbers instead of times.
  void read_count(const WrittenTime& values, const WrittenValues& written, CsvTime& time) {
    const auto node = [&](const std::string& key) -> const Node& { return written.at(key).entry->value; };
    for (const auto& [key, text] : {std::pair("clock", values.clock), std::pair("form", values.form)}) {
      if (text.empty()) continue;
      faults_.add(d_.fault(written.at(key).entry->key, std::string("numbers since a time need no ") + key,
                           "remove it, or unit and since"));
    }
    if (values.unit.empty() || values.since.empty()) {
      const std::string there = values.unit.empty() ? "since" : "unit",
                        lacking = values.unit.empty() ? "unit" : "since";
      faults_.add(d_.fault(written.at(there).entry->key, "time has " + there + " without " + lacking,
                           values.unit.empty() ? "unit: s" : "since: YYYY-MM-DD hh:mm"));
      return;
    }
    time.since = TimeForm().read(values.since);
    if (!time.since) {
      faults_.add(d_.fault(node("since"),
                           "since must be a time written YYYY-MM-DD hh:mm, not " + in_quotes(values.since),
                           "since: YYYY-MM-DD hh:mm"));
    }
    time.column.unit = values.unit;
    TextFault why;
    const Unit second = unit_of<Duration>("s");
    if (!set_unit(second, time.column, why)) fault_of_unit(node("unit"), why, second);
  }

  bool has(const std::string& key) const {
    return section_.value.find(key) || section_.value.incomplete || std::count(meant_.begin(), meant_.end(), key) > 0;
  }

  void check_complete() {
    std::vector<std::string> lacking;
    std::string how;
    const auto need = [&](const std::string& key, const std::vector<Field>& fields) {
      if (has(key)) return;
      lacking.push_back(key);
      how += (how.empty() ? "" : "; ") + form(key, fields);
    };
    need(time_key, time_fields());
    const bool enough = has("global_horizontal") || (has("direct_normal") && has("diffuse_horizontal"));
    const bool some = has("direct_normal") || has("diffuse_horizontal");
    if (!enough && !some) {
      need("global_horizontal", column_fields());
      how += ", or direct_normal and diffuse_horizontal";
    }
    need("air_temperature", column_fields());
    if (!lacking.empty()) faults_.add(d_.fault(section_.key, "weather lacks " + listed(lacking), how));
    if (enough || !some) return;
    const std::string there = has("direct_normal") ? "direct_normal" : "diffuse_horizontal";
    const std::string other = has("direct_normal") ? "diffuse_horizontal" : "direct_normal";
    faults_.add(d_.fault(section_.value.find(there)->key, "the light cannot be worked out from " + there + " alone",
                         "global_horizontal or " + other + " beside it"));
  }

  const Document& d_;
  const Node::Entry& section_;
  Faults& faults_;
  const std::size_t before_;
  std::vector<std::string> meant_;  // keys that stand there misspelled
};

}  // namespace

std::optional<CsvLayout> read_csv_layout(const Document& d, const Node::Entry& section, bool has_site, Faults& faults) {
  return LayoutReader(d, section, faults).read(has_site);
}

}  // namespace overwinter
