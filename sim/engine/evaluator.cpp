#include "sim/engine/evaluator.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace overwinter {

Evaluator::Evaluator(const Diagram& diagram, bool transient) : diagram_(diagram) {
  line_.assign(diagram.line_numbers(), std::numeric_limits<double>::quiet_NaN());
  held_.assign(diagram.holds(), 0.0);
  local_.assign(diagram.local_size(), 0.0);
  local_f_.assign(diagram.local_size(), 0.0);
  for (std::uint32_t i = 0; i < diagram.places().size(); ++i) {
    if (diagram.places()[i] != diagram.unknowns()) joints_.push_back({i, diagram.places()[i]});
  }
  std::size_t widest = 0;
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    const DiagramPart& part = diagram.parts()[p];
    widest = std::max(widest, part.width());
    slots_.push_back({part.model.get(), part.local, part.width() * part.width()});
    views_.push_back({local_.data() + part.local, nullptr, nullptr, nullptr, held_.data() + part.held,
                      line_.data() + part.line, transient});
    if (part.table->holds > 0) holding_.push_back(p);
  }
  part_jacobian_.assign(widest * widest, 0.0);
}

void Evaluator::use(const std::vector<const Model*>& models) {
  for (std::size_t p = 0; p < slots_.size(); ++p) slots_[p].model = models[p];
}

void Evaluator::set_inputs(const double* state, const std::int32_t* memory, const double* drive) {
  solved_ = {state, memory, drive, solved_.network};
  for (std::size_t p = 0; p < views_.size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    views_[p].x = state + part.state;
    views_[p].memory = memory + part.memory;
    views_[p].drive = drive + part.drive;
  }
  for (const LineLink& link : diagram_.lines()) {
    if (link.kind != LineKind::reading) read_line(link);
  }
  for (const std::size_t p : holding_) slots_[p].model->hold(views_[p], held_.data() + diagram_.parts()[p].held);
}

void Evaluator::read_line(const LineLink& link) {
  const DiagramPart& from = diagram_.parts()[link.part];
  from.table->line_outputs[link.port].write(model(link.part), view(link.part), line_.data() + link.input);
}

void Evaluator::gather(const double* network) {
  for (const Joint& j : joints_) local_[j.local] = network[j.place];
}

void Evaluator::residual(const double* network, double* f) {
  gather(network);
  for (std::size_t p = 0; p < slots_.size(); ++p) {
    slots_[p].model->evaluate(views_[p], local_f_.data() + slots_[p].local);
  }
  sum_at_nets(f);
}

void Evaluator::add_residual(std::size_t p, double times, double* f) {
  const DiagramPart& part = diagram_.parts()[p];
  slots_[p].model->evaluate(views_[p], local_f_.data() + part.local);
  for (std::size_t i = part.local; i < part.local + part.width(); ++i) {
    const std::uint32_t place = diagram_.places()[i];
    if (place != diagram_.unknowns()) f[place] += times * local_f_[i];
  }
}

void Evaluator::linearise(const double* network, double* f, const JacobianPlaces& places, double* jacobian) {
  gather(network);
  std::fill(jacobian, jacobian + places.size, 0.0);
  const std::uint32_t* place = places.entries.data();
  for (std::size_t p = 0; p < slots_.size(); ++p) {
    const Slot& slot = slots_[p];
    slot.model->linearise(views_[p], local_f_.data() + slot.local, part_jacobian_.data());
    for (std::size_t e = 0; e < slot.area; ++e) jacobian[*place++] += part_jacobian_[e];
  }
  sum_at_nets(f);
}

void Evaluator::sum_at_nets(double* f) const {
  std::fill(f, f + diagram_.unknowns(), 0.0);
  for (const Joint& j : joints_) f[j.place] += local_f_[j.local];
}

void Evaluator::set_solution(const double* network) {
  solved_.network = network;
  gather(network);
  for (const LineLink& link : diagram_.lines()) {
    if (link.kind == LineKind::reading) read_line(link);
  }
}

void Evaluator::rates(const std::vector<std::size_t>& parts, double* dxdt) {
  for (const std::size_t p : parts) model(p).rates(view(p), dxdt + diagram_.parts()[p].state);
}

void Evaluator::rates(double* dxdt) {
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    if (!part.table->states.empty()) model(p).rates(view(p), dxdt + part.state);
  }
}

void Evaluator::decay(double* rate) const {
  std::fill(rate, rate + diagram_.states(), 0.0);
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    model(p).decay(view(p), rate + part.state);
  }
}

void Evaluator::flows(double* flow) {
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    model(p).flows(view(p), flow + part.flow);
  }
  double* refused = flow + diagram_.flows();
  std::fill(refused, refused + diagram_.refused().size(), 0.0);
  for (const HarvestLink& link : diagram_.harvest()) {
    std::size_t cause = 0;
    if (link.cause) {
      const auto decider = static_cast<std::size_t>(link.deciding_part);
      cause = static_cast<std::size_t>(link.cause->value(model(decider), view(decider)));
    }
    refused[link.refused + cause] += flow[link.offered_flow] - flow[link.taken_flow];
  }
}

double Evaluator::stored_energy() const {
  double sum = 0;
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) sum += model(p).stored_energy(view(p));
  return sum;
}

}  // namespace overwinter
