// What the report draws, gathered while a run goes on.
#pragma once

#include "sim/engine/simulator.hpp"
#include "sim/report/report.hpp"
#include "sim/service/service.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

class SeriesCollector final : public RunWatcher {
 public:
  /// `cell`: the part that is the cell.
  SeriesCollector(const Diagram&, const Weather&, std::size_t cell);
  void on_sample(Tick, const double*, Evaluator&) override;
  /// The series with the wakes and brown-outs of the record, which may be null.
  ReportSeries finish(const ServiceRecord*);

 private:
  const Diagram& diagram_;
  const Weather& weather_;
  const std::size_t cell_;
  const Output *voltage_ = nullptr, *charge_ = nullptr, *temperature_ = nullptr;
  std::size_t interval_ = 0;
  ReportSeries series_;
};

}  // namespace overwinter
