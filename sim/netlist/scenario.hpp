// A scenario file, read and checked: everything is resolved to models, pins and places.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "models/policy.hpp"
#include "models/table.hpp"
#include "sim/input_error.hpp"
#include "sim/netlist/csv_layout.hpp"
#include "sim/netlist/overrides.hpp"
#include "sim/netlist/requirements.hpp"
#include "sim/netlist/timed_fault.hpp"
#include "sim/site.hpp"

namespace overwinter {

/// A calendar day of the site's standard time.
struct CivilDate {
  int year = 1970;
  int month = 1;  ///< 1...12
  int day = 1;    ///< 1...31
};

/// Days since 1970-01-01 (proleptic Gregorian calendar).
std::int64_t days_since_epoch(CivilDate);
CivilDate civil_date(std::int64_t days_since_epoch);
/// Of the Gregorian calendar.
inline bool is_leap_year(int year) { return (year % 4 == 0 && year % 100 != 0) || year % 400 == 0; }
/// "2024-10-15".
std::string iso(CivilDate);

/// Days of the site's standard time, both included.
struct DaySpan {
  CivilDate from, to;
};

struct PinRef {
  std::size_t part = 0;  ///< index into Scenario::parts
  std::size_t pin = 0;   ///< index into the model table's pins
};

struct PortRef {
  std::size_t part = 0;
  std::size_t port = 0;  ///< index into the table's line_outputs or line_inputs
};

struct ScenarioPart {
  std::string name;        ///< of a pull-up, the line's name and " pull-up"
  std::string part_class;  ///< empty when all parameters stand in the scenario
  const ModelTable* table = nullptr;
  std::shared_ptr<const Model> model;
  Place place;
  std::shared_ptr<const void> parameters = {};  ///< what the model was built from; null for a pull-up
};

struct ScenarioNet {
  std::string name;  ///< "gnd" is the reference; of an electrical line, the line's name
  std::vector<PinRef> pins;
  Place place;
};

struct ScenarioLine {
  std::string name;
  LineKind kind = LineKind::temperature;
  PortRef from;
  std::vector<PortRef> to;
  Place place;
};

/// The greatest seed of synthetic weather.
inline constexpr int last_seed = 999'999'999;

/// A file that took part in the run.
struct InputFile {
  std::string path;
  std::string text;
};

struct Scenario {
  std::string path;                 ///< as given on the command line
  std::vector<Override> overrides;  ///< what was given in place of the file's values
  std::string title;
  std::optional<Site> site;               ///< none: the weather file's
  std::optional<CsvLayout> csv;           ///< of the weather file's columns; none: the file is in the EPW layout
  CivilDate from, to;                     ///< `to` is included to its end
  std::string weather_file;               ///< resolved against the scenario's folder
  std::optional<std::uint64_t> seed;      ///< of synthetic weather: weather_file holds its climate
  Place weather_place;                    ///< where the scenario names it
  std::vector<ScenarioPart> parts;        ///< in name order, the resistors of pull-ups among them
  std::vector<ScenarioNet> nets;          ///< in name order, the electrical lines among them
  std::vector<ScenarioLine> lines;        ///< in name order; those that carry numbers
  std::shared_ptr<const Policy> policy;   ///< null: none, and no part asks one
  std::vector<Requirement> requirements;  ///< in the order of requirement_kinds(); with the defaults
  std::vector<TimedFault> faults;         ///< in the order in which they are written
  int sunny_days = 3;             ///< after the light's return until an instrument that has not woken needs a human
  std::vector<InputFile> inputs;  ///< the scenario and the part files it read (not the embedded ones, not the weather)
};

/// The keys of a scenario file.
const std::vector<std::string>& scenario_sections();

/// Reads and checks a scenario file, with these values in place of its own. Throws InputError with every fault found.
Scenario read_scenario(const std::string& path, const std::vector<Override>& = {});

}  // namespace overwinter
