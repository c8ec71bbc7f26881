// The courses of all nets, lines and outputs around a moment, as they are written to files.
//
// Rows are unevenly spaced. Between two of them a voltage, a current or another quantity runs straight, a logic level
// or regime holds. What changes at once at an event of tick t has a row at t - 1 with the values before it and one at t
// with those after the last of its rounds; where t - 1 is itself such a row, that one row is both.
#pragma once

#include <string>
#include <vector>

#include "models/table.hpp"

namespace overwinter {

/// The groups of what belongs to no part; also of marks without one.
inline constexpr const char *net_group = "net", *line_group = "line", *network_group = "network";

struct Signal {
  enum class Kind { voltage, current, logic, regime, other };
  std::string group;  ///< net_group, line_group, or a part
  std::string name;
  Kind kind = Kind::other;
  Unit unit;  ///< in which its values are written
  std::string meaning;
  std::vector<std::string> labels;  ///< of a regime: what its values 0, 1, ... mean

  /// "boost.input_current", "net.rail".
  std::string full_name() const { return group + "." + name; }
  /// The same with the unit behind it, "boost.input_current [mA]", as the columns of trace.csv.
  std::string column() const;
  bool holds() const { return kind == Kind::logic || kind == Kind::regime; }
};

Signal net_signal(const std::string& net);
/// Of a line from one push-pull output. A line that an open-drain pin drives is a net.
Signal logic_signal(const std::string& line);
Signal output_signal(const std::string& part, const Output&);
Signal state_signal(const std::string& part, const State&);

/// Something that happened.
struct Mark {
  Tick time = 0;
  std::string part;  ///< empty: the network as a whole
  std::string event, meaning;

  std::string group() const { return part.empty() ? network_group : part; }
};

/// A level at which a part would act.
struct Threshold {
  std::size_t signal = 0;
  double value = 0;  ///< SI
  std::string label;
};

struct Waveforms {
  std::string title;     ///< the scenario's
  std::string occasion;  ///< what the moment is, as a sentence without its full stop; may be empty
  Tick moment = 0;
  Tick utc_offset = 0;  ///< the site's standard time minus UTC
  std::vector<Signal> signals;
  std::vector<Tick> times;     ///< strictly increasing
  std::vector<double> values;  ///< SI, a row for each time; 0 or 1 for a logic level, the label's number for a regime
  std::vector<Mark> marks;     ///< ascending, none before the first row or behind the last
  std::vector<Threshold> thresholds;

  double value(std::size_t row, std::size_t signal) const { return values[row * signals.size() + signal]; }
};

/// Throws std::invalid_argument, with the place, where the above does not hold: a length, an order, a value that is not
/// finite or no level or label, a regime without labels, a threshold of a signal that is none.
void require_sound(const Waveforms&);

/// The value in the signal's unit, to nine significant digits: more would write out what the network's solver leaves.
double written_value(double si, const Signal&);

/// The first row at or after the time, or the last row.
std::size_t row_at(const Waveforms&, Tick);

/// A time from the moment, exact to the tick, in the unit that fits its size: "+12.345 us", "-3.2 ms", "0 s".
std::string offset_text(Tick, const char* micro = "us");

}  // namespace overwinter
