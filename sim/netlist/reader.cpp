#include <algorithm>
#include <filesystem>
#include <optional>
#include <string_view>
#include <utility>

#include "models/catalogue.hpp"
#include "sim/netlist/binder.hpp"
#include "sim/netlist/date_text.hpp"
#include "sim/netlist/document.hpp"
#include "sim/netlist/fault_section.hpp"
#include "sim/netlist/files.hpp"
#include "sim/netlist/part_classes.hpp"
#include "sim/netlist/part_reader.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/netlist/site_fields.hpp"
#include "sim/netlist/weather_section.hpp"
#include "sim/netlist/wiring.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view weather_start = "LOCATION,";  // of the EPW layout

enum class Presence { required, optional };

class ScenarioReader {
 public:
  ScenarioReader(const Document& d, Scenario& scenario, Faults& faults)
      : d_(d), s_(scenario), faults_(faults), folder_(fs::path(scenario.path).parent_path()) {}

  void read() {
    check_keys(d_.root(), "a scenario", scenario_sections(), meant_);
    read_title();
    read_site();
    read_span();
    read_weather();
    PartLibrary library = PartLibrary::built_in();
    read_part_files(library);
    read_netlist(library);
    read_require();
    if (const auto* entry = section("faults", Node::Kind::sequence, Presence::optional,
                                    "faults: [{part: PART, fault: KIND, at: YYYY-MM-DD hh:mm, for: NUMBER d}]")) {
      s_.faults = read_faults(d_, entry->value, {s_.parts, parts_known_, span_}, faults_);
    }
  }

 private:
  void check_keys(const Node& mapping, const std::string& owner, const std::vector<std::string>& known,
                  std::vector<std::string>& meant) {
    const std::vector<Field> no_fields;
    WrittenValues unused;
    meant = collect(no_fields, known, owner, d_, mapping, unused, faults_);
  }

  /// The entry of a section that holds something of the right kind; otherwise null, and a fault where one is due.
  const Node::Entry* section(const std::string& key, Node::Kind kind, Presence presence, const std::string& example) {
    const Node::Entry* entry = d_.root().find(key);
    const bool misspelled = std::count(meant_.begin(), meant_.end(), key) > 0 || d_.root().incomplete;
    if (!entry) {
      if (presence == Presence::required && !misspelled) {
        faults_.add(d_.fault(d_.root(), "the scenario has no " + key, example));
      }
      return nullptr;
    }
    const Node& value = entry->value;
    if (value.is_refused()) return nullptr;
    const bool hollow =
        value.kind == kind && value.items.empty() && value.entries.empty() && trimmed(value.text).empty();
    if (value.is_null() || hollow) {
      const std::string hint = presence == Presence::required ? example : example + ", or remove the key";
      faults_.add(d_.fault(entry->key, key + " is empty", hint));
      return nullptr;
    }
    if (value.kind != kind) {
      const std::string wanted = kind == Node::Kind::mapping    ? "a mapping"
                                 : kind == Node::Kind::sequence ? "a list"
                                                                : "text";
      faults_.add(d_.fault(value, key + " must be " + wanted + ", not " + described(value), example));
      return nullptr;
    }
    return entry;
  }

  void read_title() {
    s_.title = fs::path(s_.path).stem().string();
    if (const auto* entry = section("scenario", Node::Kind::scalar, Presence::optional, "scenario: TITLE")) {
      s_.title = trimmed(entry->value.text);
    }
  }

  void read_site() {
    const auto* entry =
        section("site", Node::Kind::mapping, Presence::optional,
                "site: {latitude: NUMBER deg, longitude: NUMBER deg, elevation: NUMBER m, utc_offset: NUMBER h}");
    if (!entry) return;
    WrittenValues written;
    collect(site_fields(), {}, "site", d_, entry->value, written, faults_);
    Site site;
    bind_fields(site_fields(), written, &site, faults_);
    const std::vector<const Field*> missing = missing_fields(site_fields(), written);
    if (!missing.empty() && !entry->value.incomplete) {
      std::vector<std::string> keys;
      for (const Field* field : missing) keys.push_back(field->key);
      faults_.add(d_.fault(entry->key, "site lacks " + listed(keys), how_to_write(missing)));
    }
    s_.site = site;
  }

  std::optional<CivilDate> read_day(const Node& span, const std::string& key, const Node& section_key, bool strangers) {
    const Node::Entry* entry = span.find(key);
    if (!entry || entry->value.is_null()) {
      const bool explained = span.incomplete || strangers;
      if (!explained)
        faults_.add(d_.fault(entry ? entry->key : section_key, "span lacks " + key, key + ": YYYY-MM-DD"));
      return std::nullopt;
    }
    const Node& value = entry->value;
    if (value.is_refused()) return std::nullopt;
    if (!value.is_scalar()) {
      faults_.add(
          d_.fault(value, key + " must be a day written YYYY-MM-DD, not " + described(value), key + ": YYYY-MM-DD"));
      return std::nullopt;
    }
    TextFault why;
    const auto date = parse_date(key, value.text, why);
    if (!date) faults_.add(d_.fault(value, why.offset, why.length, why.message, why.suggestion));
    return date;
  }

  void read_span() {
    const auto* entry =
        section("span", Node::Kind::mapping, Presence::required, "span: {from: YYYY-MM-DD, to: YYYY-MM-DD}");
    if (!entry) return;
    std::vector<std::string> meant;
    const std::size_t before = faults_.size();
    check_keys(entry->value, "span", {"from", "to"}, meant);
    const bool strangers = faults_.size() != before;
    const auto from = read_day(entry->value, "from", entry->key, strangers);
    const auto to = read_day(entry->value, "to", entry->key, strangers);
    if (!from || !to) return;
    s_.from = *from;
    s_.to = *to;
    span_ = DaySpan{*from, *to};
    if (days_since_epoch(*to) >= days_since_epoch(*from)) return;
    Fault fault = d_.fault(entry->value.find("to")->value,
                           "the span is empty: it ends on " + iso(*to) + ", before it begins", "exchange from and to");
    fault.others.push_back(d_.other(entry->value.find("from")->value, "it begins on " + iso(*from)));
    faults_.add(std::move(fault));
  }

  /// The path of a file that the scenario names, relative to the scenario's folder; its text if it is there.
  std::optional<std::string> read_named(const Node& node, const std::string& what, fs::path& path) {
    if (node.is_refused()) return std::nullopt;
    if (!node.is_scalar() || trimmed(node.text).empty()) {
      faults_.add(d_.fault(node, what + " must be the name of a file, not " + described(node),
                           "a path from the scenario's folder"));
      return std::nullopt;
    }
    path = (folder_ / node.text).lexically_normal();
    std::string why;
    auto text = read_file(path, why);
    if (!text) {
      const std::string near = nearest_file(path);
      faults_.add(d_.fault(
          node, what + " " + path.string() + " " + why,
          near.empty() ? "a path from the scenario's folder" : fs::path(node.text).replace_filename(near).string()));
    }
    return text;
  }

  void read_weather() {
    const auto* entry = section("weather", Node::Kind::mapping, Presence::required, "weather: {file: FILE}");
    if (!entry) return;
    const std::size_t before = faults_.size();
    s_.csv = read_csv_layout(d_, *entry, s_.site.has_value() || is_hidden("site"), faults_);
    const bool strangers = faults_.size() != before;
    const Node::Entry* synthetic = entry->value.find("synthetic");
    if (synthetic) return read_synthetic(*entry, *synthetic);
    if (const Node::Entry* seed = entry->value.find("seed")) {
      faults_.add(d_.fault(seed->key, "a seed belongs to synthetic weather",
                           "synthetic: CLIMATE.yaml in place of file, or remove the seed"));
      return;
    }
    const Node::Entry* file = entry->value.find("file");
    if (!file || file->value.is_null()) {
      const bool explained = strangers || entry->value.incomplete;
      if (!explained)
        faults_.add(d_.fault(file ? file->key : entry->key, "weather lacks file", "weather: {file: FILE}"));
      return;
    }
    fs::path path;
    read_named(file->value, "weather file", path);
    s_.weather_file = path.string();
    s_.weather_place = d_.place(file->value);
  }

  void read_synthetic(const Node::Entry& section, const Node::Entry& synthetic) {
    for (const Node::Entry& other : section.value.entries) {
      if (other.key.text == "synthetic" || other.key.text == "seed") continue;
      faults_.add(d_.fault(other.key, "synthetic weather has a seed and nothing else",
                           "weather: {synthetic: CLIMATE.yaml, seed: 1}"));
      return;
    }
    s_.seed = 1;
    if (const Node::Entry* seed = section.value.find("seed")) {
      TextFault why;
      const std::optional<int> number = parse_count("seed", seed->value.text, why);
      if (!number || *number < 0 || *number > last_seed) {
        faults_.add(d_.fault(seed->value.is_null() ? seed->key : seed->value,
                             "seed must be a whole number from 0 to " + std::to_string(last_seed), "seed: 1"));
      } else {
        s_.seed = static_cast<std::uint64_t>(*number);
      }
    }
    if (synthetic.value.is_null()) {
      faults_.add(d_.fault(synthetic.key, "synthetic names no climate file", "synthetic: CLIMATE.yaml"));
      return;
    }
    fs::path path;
    const std::optional<std::string> text = read_named(synthetic.value, "climate file", path);
    if (text && text->compare(0, weather_start.size(), weather_start) == 0) {
      faults_.add(d_.fault(synthetic.value, "this is a weather file, not the file of a climate",
                           "weather: {file: " + synthetic.value.text + "}"));
    }
    s_.weather_file = path.string();
    s_.weather_place = d_.place(synthetic.value);
  }

  void read_part_files(PartLibrary& library) {
    const Node::Entry* written = d_.root().find("part_files");
    const auto* entry = section("part_files", Node::Kind::sequence, Presence::optional, "part_files: [FILE, FILE]");
    if ((written && !entry) || std::count(meant_.begin(), meant_.end(), "part_files") || d_.root().incomplete) {
      library.set_incomplete();
    }
    if (!entry) return;
    std::vector<std::pair<fs::path, const Node*>> known;
    for (const Node& node : entry->value.items) {
      fs::path path;
      std::optional<std::string> text = read_named(node, "part file", path);
      if (!text) {
        library.set_incomplete();
        continue;
      }
      const auto twice = std::find_if(known.begin(), known.end(), [&](const auto& k) { return k.first == path; });
      if (twice != known.end()) {
        Fault fault = d_.fault(node, "part file " + path.string() + " is named twice", "remove one");
        fault.others.push_back(d_.other(*twice->second, "it stands first here"));
        faults_.add(std::move(fault));
        continue;
      }
      known.emplace_back(path, &node);
      const auto document = Document::parse(path.string(), *text, faults_);
      if (document) {
        library.add(document, false, faults_);
      } else {
        library.set_incomplete();
      }
      s_.inputs.push_back({path.string(), *std::move(text)});
    }
  }

  void read_netlist(const PartLibrary& library) {
    const auto* policy_section = section("policy", Node::Kind::mapping, Presence::optional, "policy: {every: 30 min}");
    ReadPolicy policy;
    if (policy_section) policy = read_policy(d_, *policy_section, faults_);
    policy.written = policy_section || is_hidden("policy");
    s_.policy = policy.policy;
    const auto* parts = section("parts", Node::Kind::mapping, Presence::required, "parts: {NAME: {model: MODEL, ...}}");
    std::vector<ReadPart> read;
    if (parts) read = read_parts(d_, parts->value, library, policy, faults_);
    if (parts) check_cell(*parts, read);
    check_single(EventRole::alarm_due, "whose alarm a wake answers", read);
    check_single(EventRole::wake_completed, "whose wakes are counted", read);
    if (parts && policy_section && !parts->value.incomplete) check_policy_asked(*policy_section, read);
    wakes_ = !parts || parts->value.incomplete || std::any_of(read.begin(), read.end(), [](const ReadPart& part) {
      return !part.table || has_event(*part.table, EventRole::wake_completed);
    });
    for (const ReadPart& part : read) {
      s_.parts.push_back({part.name, part.part_class, part.table, part.model, d_.place(*part.key), part.parameters});
    }
    const auto* nets = section("nets", Node::Kind::mapping, Presence::required, "nets: {NAME: [PART.PIN, PART.PIN]}");
    const auto* lines =
        section("lines", Node::Kind::mapping, Presence::optional, "lines: {NAME: {from: PART.OUTPUT, to: PART.INPUT}}");
    parts_known_ = parts && !parts->value.incomplete;
    const Wirable wirable{read, parts && !parts->value.incomplete};
    read_wiring(d_, nets, lines, lines || !is_hidden("lines"), wirable, s_, faults_);
  }

  /// An optional section may be there, but under a misspelled key or in a form that was refused.
  bool is_hidden(const std::string& key) const {
    return d_.root().find(key) || d_.root().incomplete || std::count(meant_.begin(), meant_.end(), key) > 0;
  }

  void check_policy_asked(const Node::Entry& policy, const std::vector<ReadPart>& parts) {
    std::vector<std::string> asking;
    for (const ModelTable* table : catalogue()) {
      if (table->set_policy) asking.push_back(table->name);
    }
    for (const ReadPart& part : parts) {
      if (!part.table || part.table->set_policy) return;
    }
    faults_.add(d_.fault(policy.key, "the scenario has a policy, but no part asks it",
                         "remove it" + (asking.empty() ? "" : ", or add a part of model " + listed(asking))));
  }

  void read_require() {
    Requirements requirements;
    const auto* entry = section("require", Node::Kind::mapping, Presence::optional,
                                "require: {longest_gap: {at_most: 24 h}, needs_human: {at_most: 0}}");
    if (entry) requirements = read_requirements(d_, entry->value, wakes_, faults_);
    add_defaults({wakes_, entry != nullptr, s_.policy.get(), s_.path}, requirements);
    s_.requirements = std::move(requirements.all);
    s_.sunny_days = requirements.sunny_days;
  }

  /// A system has exactly one cell.
  void check_cell(const Node::Entry& section, const std::vector<ReadPart>& parts) {
    const ModelTable* cell = find_model("cell");
    const bool unknown = std::any_of(parts.begin(), parts.end(), [](const ReadPart& p) { return !p.table; });
    std::vector<const Node*> cells;
    for (const ReadPart& part : parts) {
      if (cell && part.table == cell) cells.push_back(part.key);
    }
    if (cell && cells.empty() && !unknown && !section.value.incomplete) {
      faults_.add(d_.fault(section.key, "no part is a cell", "cell: {model: cell, part: PART CLASS}"));
    }
    keep_first(cells, "cell; a system has one", "keep one cell");
  }

  /// Service is told for one clock and one controller: of several, the events could not be told apart.
  void check_single(EventRole role, const std::string& purpose, const std::vector<ReadPart>& parts) {
    std::vector<const Node*> found;
    std::string model;
    for (const ReadPart& part : parts) {
      if (!part.table || !has_event(*part.table, role)) continue;
      found.push_back(part.key);
      model = part.table->name;
    }
    keep_first(found, model + "; a scenario has one, " + purpose, "keep one " + model);
  }

  void keep_first(std::vector<const Node*> parts, const std::string& is_a_second, const std::string& suggestion) {
    std::sort(parts.begin(), parts.end(), [](const Node* a, const Node* b) {
      return std::pair(a->line, a->column) < std::pair(b->line, b->column);
    });
    for (std::size_t i = 1; i < parts.size(); ++i) {
      Fault fault =
          d_.fault(*parts[i], "part " + in_quotes(parts[i]->text) + " is a second " + is_a_second, suggestion);
      fault.others.push_back(d_.other(*parts.front(), "the first stands here"));
      faults_.add(std::move(fault));
    }
  }

  const Document& d_;
  Scenario& s_;
  Faults& faults_;
  const fs::path folder_;
  std::vector<std::string> meant_;  // sections that stand under a misspelled key
  bool parts_known_ = false;        // each part that the scenario has is among those read
  std::optional<DaySpan> span_;     // none: a fault says why
  bool wakes_ = true;               // a part can complete a wake, or a fault hides whether one can
};

}  // namespace

const std::vector<std::string>& scenario_sections() {
  static const std::vector<std::string> sections = {"scenario", "site",  "span",   "weather", "part_files", "parts",
                                                    "nets",     "lines", "policy", "require", "faults"};
  return sections;
}

Scenario read_scenario(const std::string& path, const std::vector<Override>& overrides) {
  Faults faults;
  Scenario scenario;
  scenario.path = path;
  std::string why;
  std::optional<std::string> text = read_file(path, why);
  if (!text) {
    const std::string near = nearest_file(path);
    Fault fault;
    fault.place.file = path;
    fault.message = "the scenario file " + why;
    fault.suggestion = near.empty() ? "give the path of a scenario, a YAML file such as scenarios/peat-bog.yaml"
                                    : fs::path(path).replace_filename(near).string();
    faults.add(std::move(fault));
    faults.raise_if_any(path);
  }
  if (text->compare(0, weather_start.size(), weather_start) == 0) {
    faults.add({{path, 1, 1},
                "this is a weather file, not a scenario",
                "name it in a scenario, weather: {file: FILE}, or give it to run with --weather",
                "",
                1,
                {}});
    faults.raise_if_any(path);
  }
  const auto document = Document::parse(path, *text, faults);
  scenario.inputs.push_back({path, *std::move(text)});
  if (document) {
    scenario.overrides = override_values(*document, overrides, faults);
    ScenarioReader(*document, scenario, faults).read();
  }
  faults.raise_if_any(path);
  return scenario;
}

}  // namespace overwinter
