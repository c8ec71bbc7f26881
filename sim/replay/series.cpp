#include "sim/replay/series.hpp"

#include <cmath>

namespace overwinter {

SeriesCollector::SeriesCollector(const Diagram& diagram, const Weather& weather, std::size_t cell)
    : diagram_(diagram), weather_(weather), cell_(cell) {
  for (const Output& output : diagram.parts()[cell].table->outputs) {
    if (output.name == "voltage") voltage_ = &output;
    if (output.name == "state_of_charge") charge_ = &output;
    if (output.name == "temperature") temperature_ = &output;
  }
  series_.utc_offset = static_cast<Tick>(std::llround(weather.site().utc_offset.si() * ticks_per_second));
}

void SeriesCollector::on_sample(Tick time, const double*, Evaluator& system) {
  if (!series_.time.empty() && series_.time.back() == time) return;
  const auto& intervals = weather_.intervals();
  while (interval_ + 1 < intervals.size() && intervals[interval_].end <= time) ++interval_;
  const Ambient& ambient = intervals[interval_].ambient;
  const Model& cell = system.model(cell_);
  const View& view = system.view(cell_);
  series_.time.push_back(time);
  series_.voltage.push_back(voltage_->value(cell, view));
  series_.charge.push_back(charge_->value(cell, view));
  series_.cell_temperature.push_back(temperature_->value(cell, view) - zero_celsius.si());
  series_.air.push_back((ambient.air - zero_celsius).si());
  series_.light.push_back(ambient.sky.global_horizontal.si());
}

ReportSeries SeriesCollector::finish(const ServiceRecord* service) {
  if (service) {
    series_.wakes = service->completed_at;
    for (const BrownOut& b : service->brownouts) series_.brownouts.push_back(b.begin);
  }
  return std::move(series_);
}

}  // namespace overwinter
