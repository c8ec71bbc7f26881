// One component model on its own, without network or engine: the arrays of its View, sized from its table, and calls
// by name.
#pragma once

#include <doctest/doctest.h>

#include <cstdint>
#include <limits>
#include <memory>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "models/table.hpp"

namespace overwinter::test {

class Alone {
 public:
  explicit Alone(std::shared_ptr<const Model> part)
      : model(std::move(part)),
        table(model->table()),
        z(table.pins.size() + table.unknowns.size()),
        x(table.states.size()),
        drive(static_cast<std::size_t>(table.drives)),
        line(line_width(table), std::numeric_limits<double>::quiet_NaN()),
        memory(static_cast<std::size_t>(table.memories)),
        alarms(static_cast<std::size_t>(table.alarms), never),
        held(static_cast<std::size_t>(table.holds)) {}

  View view() const {
    const View bare{z.data(), x.data(), memory.data(), drive.data(), nullptr, line.data(), transient};
    model->hold(bare, held.data());
    return {z.data(), x.data(), memory.data(), drive.data(), held.data(), line.data(), transient};
  }
  std::size_t width() const { return z.size(); }

  /// The fast stores begin to be integrated. What goes into the flows' integrals (J or C), flow by flow.
  std::vector<double> enter_transient() {
    std::vector<double> booked(table.flows.size(), 0.0);
    Writable w = writable();
    model->enter_transient(view(), w, booked.data());
    transient = true;
    return booked;
  }
  /// They are taken for settled again.
  void leave_transient() {
    Writable w = writable();
    model->leave_transient(view(), w);
    transient = false;
  }

  /// A weather interval begins.
  void weather(const Ambient& ambient) { model->drive(ambient, drive.data()); }
  /// The span begins, in this weather.
  void start(const Ambient& ambient) {
    weather(ambient);
    Writable w = writable();
    model->start(ambient, w);
  }

  /// Pin currents, then residuals.
  std::vector<double> currents() const {
    std::vector<double> f(width());
    model->evaluate(view(), f.data());
    return f;
  }
  std::vector<double> jacobian() const {
    std::vector<double> f(width()), j(width() * width());
    model->linearise(view(), f.data(), j.data());
    return j;
  }
  std::vector<double> rates() const {
    std::vector<double> dxdt(x.size());
    model->rates(view(), dxdt.data());
    return dxdt;
  }
  std::vector<double> flows() const {
    std::vector<double> flow(table.flows.size());
    model->flows(view(), flow.data());
    return flow;
  }
  double flow(const std::string& name) const { return flows()[index(table.flows, name)]; }
  double output(const std::string& name) const {
    return table.outputs[index(table.outputs, name)].value(*model, view());
  }
  /// The label of an output that stands for a regime.
  std::string label(const std::string& name) const {
    return table.outputs[index(table.outputs, name)].labels.at(static_cast<std::size_t>(output(name)));
  }

  double margin(const std::string& name) const {
    return table.margins[index(table.margins, name)].value(*model, view());
  }
  /// The numbers on a line output.
  std::vector<double> line_output(const std::string& name) const {
    const LineOutput& output = table.line_outputs[index(table.line_outputs, name)];
    std::vector<double> numbers(overwinter::width(output.kind));
    output.write(*model, view(), numbers.data());
    return numbers;
  }

  const Event& event(const std::string& name) const { return table.events[index(table.events, name)]; }
  double guard(const std::string& name) const { return event(name).guard(*model, view()); }
  bool due(const std::string& name) const { return guard(name) >= 0; }
  /// Runs the event's reset, due or not.
  void fire(const std::string& name) {
    Writable w = writable();
    event(name).reset(*model, view(), w);
  }
  /// Names of the events that are due now, in the table's order; alarms left out.
  std::vector<std::string> due() const {
    std::vector<std::string> names;
    for (const Event& e : table.events) {
      if (e.guard && e.guard(*model, view()) >= 0) names.push_back(e.name);
    }
    return names;
  }
  /// One round as the engine does it: all due guards look at the same snapshot, then their resets run.
  std::vector<std::string> round() {
    const std::vector<std::string> names = due();
    const Alone before = *this;
    Writable w = writable();
    for (const std::string& name : names) {
      if (event(name).reset) event(name).reset(*model, before.view(), w);
    }
    return names;
  }

  /// Goes on as that model of the same class, as where a fault begins or ends. What was booked, per flow.
  std::vector<double> goes_on(std::shared_ptr<const Model> next) {
    const Alone before = *this;
    std::vector<double> booked(table.flows.size(), 0.0);
    Writable w = writable();
    next->take_over(*model, before.view(), w, booked.data());
    model = std::move(next);
    return booked;
  }

  std::shared_ptr<const Model> model;
  const ModelTable& table;
  std::vector<double> z, x, drive, line;
  std::vector<std::int32_t> memory;
  std::vector<Tick> alarms;
  mutable std::vector<double> held;  // as of the last view()
  Moment now;
  bool transient = false;

 private:
  Writable writable() { return {x.data(), memory.data(), alarms.empty() ? nullptr : alarms.data(), now}; }
  static std::size_t line_width(const ModelTable& table) {
    std::size_t sum = 0;
    for (const LineInput& input : table.line_inputs) sum += overwinter::width(input.kind);
    return sum;
  }

  template <class Named>
  static std::size_t index(const std::vector<Named>& list, const std::string& name) {
    for (std::size_t i = 0; i < list.size(); ++i) {
      if (list[i].name == name) return i;
    }
    throw std::out_of_range("the table has no \"" + name + '"');
  }
};

/// A model from parameters that are expected to be fine.
template <class M, class P>
Alone build(const P& parameters) {
  std::vector<Finding> findings;
  std::shared_ptr<const Model> model = M::build(parameters, findings);
  if (!model) throw std::invalid_argument(findings.empty() ? "no model and no finding" : findings.front().message);
  return Alone(std::move(model));
}

/// The parameters with a fault of the model.
template <class M, class P>
P faulty(P parameters, const std::string& kind, const FaultValues& values = {}) {
  for (const FaultForm& form : M::describe().faults) {
    if (form.kind != kind) continue;
    form.apply(&parameters, values);
    return parameters;
  }
  throw std::out_of_range("the table has no fault \"" + kind + '"');
}

/// The keys of the findings for parameters that are expected to be refused; also checks that each says something.
template <class M, class P>
std::vector<std::string> refused(const P& parameters) {
  std::vector<Finding> findings;
  const std::shared_ptr<const Model> model = M::build(parameters, findings);
  CHECK_FALSE(static_cast<bool>(model));
  std::vector<std::string> keys;
  for (const Finding& f : findings) {
    CHECK(static_cast<bool>(M::describe().field(f.field)));
    CHECK_FALSE(f.message.empty());
    CHECK_FALSE(f.suggestion.empty());
    keys.push_back(f.field);
  }
  return keys;
}

inline Ambient air(double degrees_celsius) {
  Ambient a;
  a.air = celsius(degrees_celsius);
  return a;
}

}  // namespace overwinter::test
