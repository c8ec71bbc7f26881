#include "tools/benchmark/course.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <ctime>
#include <stdexcept>

#include "tools/benchmark/plain_newton.hpp"

namespace overwinter {

namespace {

/// Counts what a stepper asks of the system.
class CountedStepper final : public Stepper, StepSystem {
 public:
  CountedStepper(std::unique_ptr<Stepper> inner, std::size_t& count) : inner_(std::move(inner)), count_(count) {}
  void initialize(const std::vector<double>& x, double t, double h) override { inner_->initialize(x, t, h); }
  void resize(double h) override { inner_->resize(h); }
  std::pair<double, double> do_step(StepSystem& system) override {
    system_ = &system;
    return inner_->do_step(*this);
  }
  void calc_state(double t, std::vector<double>& x) const override { inner_->calc_state(t, x); }
  const std::vector<double>& current_state() const override { return inner_->current_state(); }
  double current_time_step() const override { return inner_->current_time_step(); }
  bool measured() const override { return inner_->measured(); }

 private:
  void slopes(const std::vector<double>& x, std::vector<double>& dxdt) override {
    ++count_;
    system_->slopes(x, dxdt);
  }
  void decay(double* rate) const override { system_->decay(rate); }
  double stored_energy() const override { return system_->stored_energy(); }
  double usual_power() const override { return system_->usual_power(); }
  bool due() const override { return system_->due(); }

  std::unique_ptr<Stepper> inner_;
  std::size_t& count_;
  StepSystem* system_ = nullptr;
};

class CourseWatcher final : public RunWatcher {
 public:
  CourseWatcher(const Diagram& diagram, Course& course) : diagram_(diagram), course_(course) {
    for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
      if (diagram.parts()[p].table->name != "cell") continue;
      cell_ = p;
      for (const Output& output : diagram.parts()[p].table->outputs) {
        if (output.name == "state_of_charge") charge_ = &output;
        if (output.name == "voltage") voltage_ = &output;
      }
    }
    if (!charge_ || !voltage_) throw std::invalid_argument("no cell to compare the charge of");
  }
  void on_sample(Tick, const double*, Evaluator& system) override {
    const Model& cell = system.model(cell_);
    course_.charge.push_back(charge_->value(cell, system.view(cell_)));
    course_.voltage.push_back(voltage_->value(cell, system.view(cell_)));
  }
  void on_happening(const Happening& h, const double*, Evaluator&) override {
    if (!h.event || h.event->role == EventRole::none) return;
    course_.service.push_back({h.time, h.part, h.event});
    if (h.event->role == EventRole::wake_completed) ++course_.wakes;
  }

 private:
  const Diagram& diagram_;
  Course& course_;
  std::size_t cell_ = 0;
  const Output *charge_ = nullptr, *voltage_ = nullptr;
};

}  // namespace

double processor_seconds() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

Method phases_method() { return {"phases", make_phase_stepper}; }
Method reference_method() { return {"reference", make_reference_stepper, Stepping::reference}; }
Method cvode_method(CvodeVariant variant) {
  const char* const name = variant == CvodeVariant::bdf              ? "CVODE BDF"
                           : variant == CvodeVariant::adams_diagonal ? "CVODE Adams diagonal"
                                                                     : "CVODE Adams";
  return {name, [variant](const StepperSettings& s) { return make_cvode_stepper(s, variant); }, Stepping::reference};
}

Method with_plain_newton(Method method) {
  method.name += ", plain";
  method.plain = true;
  return method;
}

Course run_course(const Diagram& diagram, const Weather& weather, const Method& method, double tolerance, Tick span) {
  Course course;
  CourseWatcher watcher(diagram, course);
  SimulatorOptions options;
  options.stepping = method.stepping;
  options.make_stepper = [&](const StepperSettings& s) {
    return std::make_unique<CountedStepper>(method.make(s), course.right_hand_sides);
  };
  if (method.plain) options.make_solver = make_plain_newton;
  options.tolerance = tolerance;
  options.sample_every = 3600 * ticks_per_second;
  Simulator simulator(diagram, weather, options, &watcher);
  const double started = processor_seconds();
  Context context = simulator.start();
  simulator.advance(context, std::min(weather.end(), weather.begin() + span));
  course.seconds = processor_seconds() - started;
  course.solves = simulator.solves().solves;
  course.steps = simulator.steps().accepted;
  course.retries = simulator.steps().rejected;
  course.events = simulator.steps().happenings;
  return course;
}

Course run_course(const Diagram& diagram, const Weather& weather, const Method& method, double tolerance) {
  return run_course(diagram, weather, method, tolerance, weather.end() - weather.begin());
}

std::optional<double> events_apart(const Course& a, const Course& b) {
  const auto same = [](const ServiceEvent& x, const ServiceEvent& y) { return x.part == y.part && x.event == y.event; };
  if (!std::equal(a.service.begin(), a.service.end(), b.service.begin(), b.service.end(), same)) return std::nullopt;
  Tick apart = 0;
  for (std::size_t i = 0; i < a.service.size(); ++i) {
    apart = std::max(apart, std::abs(a.service[i].time - b.service[i].time));
  }
  return static_cast<double>(apart) / ticks_per_second;
}

std::vector<double> differences(const std::vector<double>& a, const std::vector<double>& b) {
  std::vector<double> all;
  for (std::size_t i = 0; i < a.size(); ++i) all.push_back(std::abs(a[i] - b.at(i)));
  std::sort(all.begin(), all.end());
  return all;
}

Scenario first_days(const std::string& path, int days) {
  Scenario scenario = read_scenario(path);
  const std::int64_t last = days_since_epoch(scenario.from) + days - 1;
  if (last < days_since_epoch(scenario.to)) scenario.to = civil_date(last);
  return scenario;
}

double seconds_per_year(double seconds, Tick span) {
  return seconds * 365 * static_cast<double>(ticks_per_day) / static_cast<double>(span);
}

}  // namespace overwinter
