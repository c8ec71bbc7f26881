#include "sim/weather/climate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cstddef>
#include <functional>
#include <memory>
#include <optional>
#include <type_traits>
#include <utility>
#include <vector>

#include "sim/netlist/document.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/files.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/sha256.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

/// What may stand behind a key: `count` numbers with one unit.
struct ClimateKey {
  std::string key;
  std::size_t count;
  Unit unit;
  double least, most;  // SI
  std::function<void(Climate&, const std::vector<double>&)> set;
};

template <class Q>
ClimateKey single(std::string key, std::string unit, Q least, Q most, std::function<void(Climate&, Q)> set) {
  const auto si = [](const Q& q) {
    if constexpr (std::is_arithmetic_v<Q>) {
      return q;
    } else {
      return q.si();
    }
  };
  return {std::move(key),
          1,
          unit_of<Q>(std::move(unit)),
          si(least),
          si(most),
          [set = std::move(set)](Climate& c, const std::vector<double>& values) { set(c, Q{values.front()}); }};
}

ClimateKey months(std::string key, Unit unit, double least, double most, Months Climate::*member) {
  return {std::move(key), 12, std::move(unit), least, most, [member](Climate& c, const std::vector<double>& values) {
            std::copy(values.begin(), values.end(), (c.*member).begin());
          }};
}

const std::vector<ClimateKey>& climate_keys() {
  static const std::vector<ClimateKey> keys = [] {
    using namespace units;
    const Duration day = 24 * hour;
    Unit kelvins = unit_of<Temperature>("K");
    kelvins.difference = true;
    const Unit plain = unit_of<double>("1");
    return std::vector<ClimateKey>{
        single<Angle>("latitude", "deg", -90 * degree, 90 * degree, [](Climate& c, Angle v) { c.site.latitude = v; }),
        single<Angle>("longitude", "deg", -180 * degree, 180 * degree,
                      [](Climate& c, Angle v) { c.site.longitude = v; }),
        single<Length>("elevation", "m", -440 * metre, 9000 * metre,
                       [](Climate& c, Length v) { c.site.elevation = v; }),
        single<Duration>("utc_offset", "h", -12 * hour, 14 * hour,
                         [](Climate& c, Duration v) { c.site.utc_offset = v; }),
        months("clearness", plain, 0.05, 0.8, &Climate::clearness),
        months("air", unit_of<Temperature>("degC"), celsius(-50).si(), celsius(45).si(), &Climate::air),
        months("daily_range", kelvins, 0, 30, &Climate::daily_range),
        months("day_spread", kelvins, 0, 15, &Climate::day_spread),
        months("clear_day_effect", plain, -1, 1, &Climate::clear_day_effect),
        single<double>("day_persistence", "1", 0.0, 0.99, [](Climate& c, double v) { c.day_persistence = v; }),
        single<Duration>("dull_spell", "d", day, 100 * day, [](Climate& c, Duration v) { c.dull_spell = v; }),
        single<Duration>("settled_spell", "d", day, 1000 * day, [](Climate& c, Duration v) { c.settled_spell = v; }),
        single<double>("dull_factor", "1", 0.2, 1.0, [](Climate& c, double v) { c.dull_factor = v; }),
    };
  }();
  return keys;
}

std::string form(const ClimateKey& key) {
  return fmt::format("{}: {}{}{}", key.key, key.count == 1 ? "NUMBER" : "TWELVE NUMBERS",
                     key.unit.text == "1" ? "" : " ", key.unit.text == "1" ? "" : key.unit.text);
}

void read_value(const ClimateKey& key, const Document& document, const Node& value, Climate& climate, Faults& faults) {
  if (value.is_refused()) return;
  if (!value.is_scalar()) {
    faults.add(document.fault(value, fmt::format("{} cannot be {}", key.key, described(value)), form(key)));
    return;
  }
  TextFault why;
  std::optional<Row> row = parse_row(key.key, value.text, key.unit, why);
  if (!row) {
    faults.add(document.fault(value, why.offset, why.length, why.message, why.suggestion));
    return;
  }
  if (row->si.size() != key.count) {
    faults.add(document.fault(
        value, fmt::format("{} has {} numbers, {} are needed", key.key, row->si.size(), key.count), form(key)));
    return;
  }
  for (std::size_t i = 0; i < row->si.size(); ++i) {
    const std::string fault = range_fault(key.key, row->si[i], Limit{key.least}, Limit{key.most}, key.unit);
    if (!fault.empty()) faults.add(document.fault(value, row->offset[i], row->length[i], fault));
  }
  key.set(climate, row->si);
}

void read_place(const Document& document, const Node& value, Climate& climate, Faults& faults) {
  if (!value.is_scalar() || value.text.empty() || value.text.find_first_of(",\n\"") != std::string::npos) {
    faults.add(document.fault(value, "place is not a name", "write one line without commas and quotation marks"));
    return;
  }
  climate.place = value.text;
}

Fault file_fault(const std::string& path, std::string message, std::string suggestion) {
  Fault fault;
  fault.place.file = path;
  fault.message = std::move(message);
  fault.suggestion = std::move(suggestion);
  return fault;
}

}  // namespace

Climate read_climate(const std::string& path) {
  std::string why;
  const std::optional<std::string> text = read_file(path, why);
  Faults faults;
  if (!text) faults.add(file_fault(path, "the climate file " + why, nearest_file(path)));
  faults.raise_if_any(path);

  Climate climate;
  climate.path = path;
  climate.sha256 = sha256(*text);
  const std::shared_ptr<const Document> document = Document::parse(path, *text, faults);
  if (document) {
    std::vector<std::string> known{"place"};
    for (const ClimateKey& key : climate_keys()) known.push_back(key.key);
    for (const Node::Entry& entry : document->root().entries) {
      const std::string& name = entry.key.text;
      const auto key = std::find_if(climate_keys().begin(), climate_keys().end(),
                                    [&](const ClimateKey& k) { return k.key == name; });
      if (name == "place") {
        read_place(*document, entry.value, climate, faults);
      } else if (key != climate_keys().end()) {
        read_value(*key, *document, entry.value, climate, faults);
      } else {
        faults.add(document->fault(entry.key, fmt::format("a climate file has no key {}", in_quotes(name)),
                                   nearest(name, known)));
      }
    }
    for (const std::string& name : known) {
      if (!document->root().find(name)) {
        faults.add(file_fault(path, fmt::format("the climate file lacks {}", name), "add it"));
      }
    }
  }
  faults.raise_if_any(path);
  return climate;
}

}  // namespace overwinter
