#include "sim/engine/evaluator.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

namespace overwinter {

Evaluator::Evaluator(const Diagram& diagram) : diagram_(diagram) {
  line_.assign(diagram.line_inputs(), std::numeric_limits<double>::quiet_NaN());
  local_.assign(diagram.local_size(), 0.0);
  std::size_t widest = 0;
  for (const DiagramPart& part : diagram.parts()) widest = std::max(widest, part.width());
  part_f_.assign(widest, 0.0);
  part_jacobian_.assign(widest * widest, 0.0);
}

void Evaluator::set_inputs(const double* state, const std::int32_t* memory, const double* drive) {
  state_ = state;
  memory_ = memory;
  drive_ = drive;
  for (const LineLink& link : diagram_.lines()) {
    const DiagramPart& from = diagram_.parts()[link.part];
    line_[link.input] = from.table->line_outputs[link.port].value(*from.model, view(link.part));
  }
}

View Evaluator::view(std::size_t index) const {
  const DiagramPart& part = diagram_.parts()[index];
  return {local_.data() + part.local, state_ + part.state, memory_ + part.memory, drive_ + part.drive,
          line_.data() + part.line};
}

void Evaluator::gather(const double* network) {
  for (const DiagramPart& part : diagram_.parts()) {
    double* z = local_.data() + part.local;
    for (const int net : part.nets) *z++ = net < 0 ? 0.0 : network[net];
    for (std::size_t i = 0; i < part.table->unknowns.size(); ++i) *z++ = network[part.unknown + i];
  }
}

void Evaluator::residual(const double* network, double* f) {
  gather(network);
  std::fill(f, f + diagram_.unknowns(), 0.0);
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    part.model->evaluate(view(p), part_f_.data());
    const std::size_t pins = part.pins();
    for (std::size_t i = 0; i < pins; ++i) {
      if (part.nets[i] >= 0) f[part.nets[i]] += part_f_[i];
    }
    for (std::size_t i = pins; i < part.width(); ++i) f[part.unknown + i - pins] = part_f_[i];
  }
}

void Evaluator::linearise(const double* network, double* f, double* jacobian) {
  gather(network);
  const std::size_t n = diagram_.unknowns();
  std::fill(f, f + n, 0.0);
  std::fill(jacobian, jacobian + n * n, 0.0);
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    part.model->linearise(view(p), part_f_.data(), part_jacobian_.data());
    const std::size_t pins = part.pins(), width = part.width();
    const auto place = [&](std::size_t i) {
      return i < pins ? part.nets[i] : static_cast<int>(part.unknown + i - pins);
    };
    for (std::size_t i = 0; i < width; ++i) {
      const int row = place(i);
      if (row < 0) continue;
      f[row] += part_f_[i];
      for (std::size_t j = 0; j < width; ++j) {
        const int column = place(j);
        if (column >= 0) jacobian[static_cast<std::size_t>(column) * n + row] += part_jacobian_[i * width + j];
      }
    }
  }
}

void Evaluator::set_solution(const double* network) {
  solution_ = network;
  gather(network);
}

void Evaluator::rates(double* dxdt) {
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    if (!part.table->states.empty()) part.model->rates(view(p), dxdt + part.state);
  }
}

void Evaluator::flows(double* flow) {
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    part.model->flows(view(p), flow + part.flow);
  }
  double* refused = flow + diagram_.flows();
  std::fill(refused, refused + diagram_.refused().size(), 0.0);
  for (const HarvestLink& link : diagram_.harvest()) {
    std::size_t cause = 0;
    if (link.cause) {
      const auto decider = static_cast<std::size_t>(link.deciding_part);
      cause = static_cast<std::size_t>(link.cause->value(*diagram_.parts()[decider].model, view(decider)));
    }
    refused[link.refused + cause] += flow[link.offered_flow] - flow[link.taken_flow];
  }
}

double Evaluator::stored_energy() const {
  double sum = 0;
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) sum += diagram_.parts()[p].model->stored_energy(view(p));
  return sum;
}

}  // namespace overwinter
