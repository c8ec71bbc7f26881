#include "sim/zoom/waveforms.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <stdexcept>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/units_text.hpp"

namespace overwinter {

namespace {

constexpr double nothing = 1e-12;  // as in trace.csv: what the network solve leaves of nothing

Signal::Kind kind_of(const Unit& unit) {
  return unit.dimension == unit_of<Voltage>("V").dimension   ? Signal::Kind::voltage
         : unit.dimension == unit_of<Current>("A").dimension ? Signal::Kind::current
                                                             : Signal::Kind::other;
}

[[noreturn]] void refuse(const std::string& what) { throw std::invalid_argument("waveforms: " + what); }

void require_value(const Waveforms& w, std::size_t row, std::size_t column) {
  const Signal& signal = w.signals[column];
  const double value = w.value(row, column);
  const double limit = signal.kind == Signal::Kind::logic ? 2 : static_cast<double>(signal.labels.size());
  const bool fits = signal.holds() ? value >= 0 && value < limit && value == std::floor(value) : std::isfinite(value);
  if (!fits) refuse(fmt::format("{} is {} at {}", signal.full_name(), value, iso_time(w.times[row], 9)));
}

}  // namespace

std::string Signal::column() const {
  return unit.text == "1" || holds() ? full_name() : full_name() + " [" + unit.text + "]";
}

Signal net_signal(const std::string& net) {
  return {net_group, net, Signal::Kind::voltage, unit_of<Voltage>("V"), "against ground", {}};
}

Signal logic_signal(const std::string& line) {
  return {line_group, line, Signal::Kind::logic, unit_of<double>("1"), "logic level", {}};
}

Signal output_signal(const std::string& part, const Output& output) {
  const Signal::Kind kind = output.labels.empty() ? kind_of(output.unit) : Signal::Kind::regime;
  return {part, output.name, kind, output.unit, output.meaning, output.labels};
}

Signal state_signal(const std::string& part, const State& state) {
  return {part, state.name, kind_of(state.unit), state.unit, state.meaning, {}};
}

void require_sound(const Waveforms& w) {
  if (w.times.empty() || w.signals.empty()) refuse("there are no rows or no signals");
  if (w.values.size() != w.times.size() * w.signals.size()) {
    refuse(fmt::format("{} values in {} rows of {}", w.values.size(), w.times.size(), w.signals.size()));
  }
  const auto unordered = std::adjacent_find(w.times.begin(), w.times.end(), [](Tick a, Tick b) { return a >= b; });
  if (unordered != w.times.end()) refuse("no later row follows on " + iso_time(*unordered, 9));
  for (std::size_t row = 0; row < w.times.size(); ++row) {
    for (std::size_t column = 0; column < w.signals.size(); ++column) require_value(w, row, column);
  }
  Tick last = w.times.front();
  for (const Mark& mark : w.marks) {
    if (mark.time < last || mark.time > w.times.back()) {
      refuse(fmt::format("{} {} at {} is out of order", mark.group(), mark.event, iso_time(mark.time, 9)));
    }
    last = mark.time;
  }
  for (const Threshold& t : w.thresholds) {
    if (t.signal >= w.signals.size() || w.signals[t.signal].holds() || !std::isfinite(t.value)) {
      refuse("threshold " + t.label + " belongs to no signal");
    }
  }
}

double written_value(double si, const Signal& signal) {
  if (signal.holds()) return si;
  const double value = in_unit(si, signal.unit);
  if (std::abs(value) < nothing) return 0;
  return std::strtod(fmt::format("{:.9g}", value).c_str(), nullptr);
}

std::size_t row_at(const Waveforms& w, Tick time) {
  const auto found = std::lower_bound(w.times.begin(), w.times.end(), time);
  return static_cast<std::size_t>(found - w.times.begin()) - (found == w.times.end() ? 1 : 0);
}

std::string offset_text(Tick offset, const char* micro) {
  struct Size {
    Tick ticks;
    int digits;
    const char* unit;
  };
  const Size sizes[] = {{ticks_per_second, 9, "s"}, {1'000'000, 6, "ms"}, {1000, 3, micro}};
  if (offset == 0) return "0 s";
  const Tick size = std::abs(offset);
  const Size* fitting =
      std::find_if(std::begin(sizes), std::end(sizes) - 1, [&](const Size& s) { return size >= s.ticks; });
  std::string text = fmt::format("{}.{:0{}}", size / fitting->ticks, size % fitting->ticks, fitting->digits);
  text.erase(text.find_last_not_of('0') + 1);
  if (text.back() == '.') text.pop_back();
  return fmt::format("{}{} {}", offset < 0 ? '-' : '+', text, fitting->unit);
}

}  // namespace overwinter
