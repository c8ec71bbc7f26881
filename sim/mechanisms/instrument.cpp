#include "sim/mechanisms/instrument.hpp"

#include <stdexcept>

namespace overwinter {

Instrument::Instrument(const Scenario& scenario, const Diagram& diagram) : scenario_(scenario), diagram_(diagram) {
  const auto first = [](const std::vector<std::size_t>& all) {
    return all.empty() ? std::nullopt : std::optional<std::size_t>(all.front());
  };
  controller = first(all<Controller>());
  clock = first(all<Clock>());
  cell = first(all<Cell>());
}

const Circuit& Instrument::circuit() const {
  if (!circuit_) circuit_.emplace(scenario_);
  return *circuit_;
}

std::size_t Instrument::pin(std::size_t p, const std::string& pin) const {
  const std::vector<Pin>& pins = part(p).table->pins;
  for (std::size_t i = 0; i < pins.size(); ++i) {
    if (pins[i].name == pin) return i;
  }
  throw std::logic_error("no pin " + pin);
}

int Instrument::net(std::size_t p, const std::string& name) const { return part(p).nets[pin(p, name)]; }

double Instrument::output(std::size_t p, const std::string& name, const Evaluator& system) const {
  for (const Output& output : part(p).table->outputs) {
    if (output.name == name) return output.value(system.model(p), system.view(p));
  }
  throw std::logic_error("no output " + name);
}

std::string Instrument::label(std::size_t p, const std::string& name, const Evaluator& system) const {
  for (const Output& output : part(p).table->outputs) {
    if (output.name == name)
      return output.labels.at(static_cast<std::size_t>(output.value(system.model(p), system.view(p))));
  }
  throw std::logic_error("no output " + name);
}

double Instrument::current(std::size_t p, const std::string& name, const Evaluator& system) const {
  std::vector<double> f(part(p).width());
  system.model(p).evaluate(system.view(p), f.data());
  return f[pin(p, name)];
}

double Instrument::volts(std::size_t p, const std::string& plus, const std::string& minus,
                         const Evaluator& system) const {
  return system.view(p).z[pin(p, plus)] - system.view(p).z[pin(p, minus)];
}

std::string Instrument::during(const Evaluator& system) const {
  if (!controller) return {};
  const auto phase = static_cast<std::size_t>(output(*controller, "phase", system));
  const auto& phases = as<Controller>(*controller)->parameters().phases;
  return phase > 0 && phase <= phases.size() ? " in phase " + phases[phase - 1].name : std::string();
}

std::size_t Instrument::flow(std::size_t p, const std::string& name) const {
  const std::vector<Flow>& flows = part(p).table->flows;
  for (std::size_t i = 0; i < flows.size(); ++i) {
    if (flows[i].name == name) return part(p).flow + i;
  }
  throw std::logic_error("no flow " + name);
}

}  // namespace overwinter
