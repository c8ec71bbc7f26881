#include "sim/replay/recorder.hpp"

#include <fmt/format.h>

#include <cmath>
#include <stdexcept>

#include "sim/csv_text.hpp"
#include "sim/netlist/units_text.hpp"

namespace overwinter {

namespace {

std::ofstream open(const std::filesystem::path& path) {
  std::ofstream file(path, std::ios::binary);
  if (!file) throw std::runtime_error("cannot write " + path.string());
  return file;
}

std::string column(const std::string& name, const Unit& unit) {
  return unit.text == "1" ? name : name + " [" + unit.text + "]";
}

/// A number as the trace tells it: what the network solve leaves of nothing is nothing.
double told(double value) { return std::abs(value) < 1e-12 ? 0.0 : value; }

}  // namespace

Recorder::Recorder(const Diagram& diagram, const Weather& weather, const std::filesystem::path& trace,
                   const std::filesystem::path& events)
    : diagram_(diagram), weather_(weather), trace_(open(trace)), events_(open(events)) {
  std::string header = "time [UTC],weather.air [degC],weather.global [W/m2]";
  for (const std::string& net : diagram.nets()) header += "," + csv_field("net." + net + " [V]");
  for (const DiagramPart& part : diagram.parts()) {
    for (const Output& output : part.table->outputs)
      header += "," + csv_field(column(part.name + "." + output.name, output.unit));
  }
  columns_ = 3 + diagram.nets().size();
  for (const DiagramPart& part : diagram.parts()) columns_ += part.table->outputs.size();
  trace_ << header << "\n";
  events_ << "time [UTC],round,part,event,meaning\n";
}

void Recorder::on_step(Tick reached, const double*, Evaluator& system) {
  if (pending_row_ == reached) row(reached, system);
}

void Recorder::on_sample(Tick time, const double*, Evaluator& system) {
  if (time != last_row_) row(time, system);
}

void Recorder::on_happening(const Happening& h, const double*, Evaluator&) {
  if (!is_listed(h)) return;
  events_ << fmt::format("{},{},{},{},{}\n", iso_time(h.time, 9), h.round, csv_field(h.part_name()),
                         csv_field(h.event_name()), csv_field(h.event ? h.event->meaning : h.what));
  pending_row_ = h.time;
}

void Recorder::on_leap(const Leap& leap) {
  events_ << fmt::format("{},0,,stepped over,restarts in vain, one like another, until {}\n", iso_time(leap.begin, 9),
                         iso_time(leap.end, 9));
}

void Recorder::on_mechanism(Tick at, const std::string& id, const std::string& part, const std::string& text) {
  events_ << fmt::format("{},0,{},{},{}\n", iso_time(at, 9), csv_field(part), csv_field("mechanism " + id),
                         csv_field(text));
}

void Recorder::row(Tick time, Evaluator& system) {
  last_row_ = time;
  const auto& intervals = weather_.intervals();
  while (interval_ + 1 < intervals.size() && intervals[interval_].end <= time) ++interval_;
  const Ambient& ambient = intervals[interval_].ambient;
  fmt::memory_buffer line;
  fmt::format_to(std::back_inserter(line), "{},{:.6g},{:.6g}", iso_time(time, time % ticks_per_second == 0 ? 0 : 9),
                 (ambient.air - zero_celsius).si(), ambient.sky.global_horizontal.si());
  for (std::size_t n = 0; n < diagram_.nets().size(); ++n) {
    fmt::format_to(std::back_inserter(line), ",{:.6g}", told(system.net_voltage(n)));
  }
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    for (const Output& output : part.table->outputs) {
      const double value = output.value(system.model(p), system.view(p));
      if (output.labels.empty()) {
        fmt::format_to(std::back_inserter(line), ",{:.6g}", told(in_unit(value, output.unit)));
      } else {
        fmt::format_to(std::back_inserter(line), ",{}", csv_field(output.labels.at(static_cast<std::size_t>(value))));
      }
    }
  }
  line.push_back('\n');
  trace_.write(line.data(), static_cast<std::streamsize>(line.size()));
}

void Recorder::cut_short(Tick at, const std::string& by) {
  const std::string time = iso_time(at, at % ticks_per_second == 0 ? 0 : 9);
  trace_ << csv_field("cut short at " + time + " by " + by) << std::string(columns_ - 1, ',') << "\n";
  events_ << fmt::format("{},0,,cut short,{}\n", time, csv_field("by " + by + "; the span goes on"));
}

void Recorder::finish() {
  trace_.flush();
  events_.flush();
  if (!trace_ || !events_) throw std::runtime_error("the trace could not be written completely (is the disk full?)");
}

}  // namespace overwinter
