#include "sim/weather/climate.hpp"

#include <fmt/format.h>
#include <yaml-cpp/yaml.h>

#include <charconv>
#include <cmath>
#include <fstream>
#include <functional>
#include <iterator>
#include <optional>
#include <set>
#include <utility>
#include <vector>

#include "sim/input_error.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

class ClimateReader {
 public:
  explicit ClimateReader(std::string path) : path_(std::move(path)) {
    const auto months = [this](std::string key, Months& to, double least, double most) {
      keys_.push_back({std::move(key), [this, &to, least, most](const std::string& k, const YAML::Node& node) {
                         if (!node.IsSequence() || node.size() != to.size()) {
                           fault(node.Mark(), fmt::format("{} needs twelve numbers", k),
                                 "write [January, ..., December]");
                           return;
                         }
                         for (std::size_t i = 0; i < to.size(); ++i) to[i] = number(k, node[i], least, most);
                       }});
    };
    const auto single = [this](std::string key, double least, double most, std::function<void(double)> set) {
      keys_.push_back({std::move(key), [this, least, most, set](const std::string& k, const YAML::Node& node) {
                         set(number(k, node, least, most));
                       }});
    };
    keys_.push_back({"place", [this](const std::string&, const YAML::Node& node) {
                       const std::string name = node.IsScalar() ? node.Scalar() : "";
                       if (name.empty() || name.find_first_of(",\n\"") != std::string::npos) {
                         fault(node.Mark(), "place is not a name", "write one line without commas and quotes");
                       }
                       climate_.place = name;
                     }});
    single("latitude_deg", -90, 90, [this](double v) { climate_.site.latitude = v * units::degree; });
    single("longitude_deg", -180, 180, [this](double v) { climate_.site.longitude = v * units::degree; });
    single("elevation_m", -1000, 9000, [this](double v) { climate_.site.elevation = v * units::metre; });
    single("utc_offset_h", -12, 14, [this](double v) { climate_.site.utc_offset = v * units::hour; });
    months("clearness", climate_.clearness, 0.05, 0.8);
    months("air_degC", climate_.air_celsius, -50, 45);
    months("daily_range_K", climate_.daily_range, 0, 30);
    months("day_spread_K", climate_.day_spread, 0, 15);
    months("clear_day_effect", climate_.clear_day_effect, -1, 1);
    single("day_persistence", 0, 0.99, [this](double v) { climate_.day_persistence = v; });
    single("dull_spell_days", 1, 100, [this](double v) { climate_.dull_spell_days = v; });
    single("settled_spell_days", 1, 1000, [this](double v) { climate_.settled_spell_days = v; });
    single("dull_factor", 0.2, 1, [this](double v) { climate_.dull_factor = v; });
  }

  Climate read() {
    const YAML::Node root = load();
    if (faults_.empty() && !root.IsMap())
      fault(root.Mark(), "a climate file is one mapping of keys", "see --help for the keys");
    if (faults_.empty()) bind(root);
    if (!faults_.empty()) throw InputError(std::move(faults_));
    return climate_;
  }

 private:
  struct Key {
    std::string name;
    std::function<void(const std::string&, const YAML::Node&)> bind;
  };

  YAML::Node load() {
    std::ifstream file(path_, std::ios::binary);
    const std::string text(std::istreambuf_iterator<char>(file), {});
    if (!file || text.empty()) {
      fault(YAML::Mark::null_mark(), "the climate file cannot be read, or it is empty",
            "check its name and that you may read it");
      return {};
    }
    for (std::size_t begin = 0; begin < text.size();) {
      const std::size_t end = std::min(text.find('\n', begin), text.size());
      lines_.push_back(text.substr(begin, end - begin));
      begin = end + 1;
    }
    try {
      return YAML::Load(text);
    } catch (const YAML::Exception& error) {
      fault(error.mark, "this is not YAML: " + error.msg, "");
      return {};
    }
  }

  void bind(const YAML::Node& root) {
    std::set<std::string> seen;
    std::vector<std::string> names;
    for (const Key& key : keys_) names.push_back(key.name);
    for (const auto& entry : root) {
      const std::string name = entry.first.IsScalar() ? entry.first.Scalar() : "";
      const auto key = std::find_if(keys_.begin(), keys_.end(), [&](const Key& k) { return k.name == name; });
      if (key == keys_.end()) {
        const std::string near = nearest(name, names);
        fault(entry.first.Mark(), fmt::format("{} is not a key of a climate file", quoted(name)),
              near.empty() ? "see --help for the keys" : near);
      } else if (!seen.insert(name).second) {
        fault(entry.first.Mark(), fmt::format("{} stands here a second time", name), "remove one of the two");
      } else {
        key->bind(name, entry.second);
      }
    }
    for (const std::string& name : names) {
      if (seen.count(name) == 0) fault(root.Mark(), fmt::format("{} is missing", name), "add it");
    }
  }

  double number(const std::string& key, const YAML::Node& node, double least, double most) {
    const std::string text = node.IsScalar() ? node.Scalar() : "";
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (error != std::errc() || end != text.data() + text.size() || !std::isfinite(value)) {
      fault(node.Mark(), fmt::format("{}: {} is not a number", key, quoted(text)),
            fmt::format("{:g}...{:g}", least, most));
      return least;
    }
    if (value < least || value > most) {
      fault(node.Mark(), fmt::format("{}: {} is out of range", key, text), fmt::format("{:g}...{:g}", least, most));
    }
    return value;
  }

  void fault(const YAML::Mark& mark, std::string message, std::string suggestion) {
    Fault fault;
    fault.place.file = path_;
    if (!mark.is_null()) {
      const auto line = static_cast<std::size_t>(mark.line);
      fault.source_line = line < lines_.size() ? lines_[line] : "";
      fault.place.line = mark.line + 1;
      // The reader counts bytes.
      fault.place.column = characters(fault.source_line.substr(0, static_cast<std::size_t>(mark.column))) + 1;
    }
    fault.message = std::move(message);
    fault.suggestion = std::move(suggestion);
    faults_.push_back(std::move(fault));
  }

  std::string path_;
  std::vector<std::string> lines_;
  std::vector<Key> keys_;
  std::vector<Fault> faults_;
  Climate climate_;
};

}  // namespace

Climate read_climate(const std::string& path) { return ClimateReader(path).read(); }

}  // namespace overwinter
