#include "sim/zoom/waveforms_csv.hpp"

#include <fmt/format.h>

#include <cstdlib>
#include <iterator>

#include "sim/csv_text.hpp"
#include "sim/engine/simulator.hpp"

namespace overwinter {

namespace {

constexpr const char* time_columns = "time [UTC],from moment [us]";

std::string time_fields(const Waveforms& w, Tick time) {
  const Tick offset = time - w.moment, size = std::abs(offset);
  return fmt::format("{},{}{}.{:03}", iso_time(time, 9), offset < 0 ? "-" : "", size / 1000, size % 1000);
}

std::string field(double value, const Signal& signal) {
  if (signal.kind == Signal::Kind::regime) return csv_field(signal.labels[static_cast<std::size_t>(value)]);
  return fmt::format("{:.9g}", written_value(value, signal));
}

}  // namespace

std::string waveforms_csv(const Waveforms& w) {
  require_sound(w);
  fmt::memory_buffer csv;
  const auto to = std::back_inserter(csv);
  fmt::format_to(to, "{}", time_columns);
  for (const Signal& signal : w.signals) fmt::format_to(to, ",{}", csv_field(signal.column()));
  std::vector<std::string> fields(w.signals.size());  // most signals hold from row to row
  for (std::size_t row = 0; row < w.times.size(); ++row) {
    fmt::format_to(to, "\n{}", time_fields(w, w.times[row]));
    for (std::size_t s = 0; s < w.signals.size(); ++s) {
      const double value = w.value(row, s);
      if (row == 0 || value != w.value(row - 1, s)) fields[s] = field(value, w.signals[s]);
      fmt::format_to(to, ",{}", fields[s]);
    }
  }
  csv.push_back('\n');
  return fmt::to_string(csv);
}

std::string marks_csv(const Waveforms& w) {
  std::string csv = std::string(time_columns) + ",part,event,meaning\n";
  for (const Mark& m : w.marks) {
    csv += fmt::format("{},{},{},{}\n", time_fields(w, m.time), csv_field(m.part), csv_field(m.event),
                       csv_field(m.meaning));
  }
  return csv;
}

}  // namespace overwinter
