#include "sim/service/refused_light.hpp"

namespace overwinter {

RefusedLight::RefusedLight(const Diagram& diagram, Tick begin)
    : diagram_(diagram), next_midnight_(begin + ticks_per_day), before_(diagram.integrals()) {
  for (const DiagramPart& part : diagram.parts()) {
    for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
      if (part.table->flows[f].kind == FlowKind::offered) offers_.push_back(part.flow + f);
    }
  }
}

void RefusedLight::on_step(Tick reached, const double* state, Evaluator&) {
  if (reached < next_midnight_) return;
  const double* integral = state + diagram_.states();
  const auto of_day = [&](std::size_t i) { return integral[i] - before_[i]; };
  double offered = 0;
  for (const std::size_t i : offers_) offered += of_day(i);
  std::string larger_half;
  for (std::size_t i = 0; i < diagram_.refused().size(); ++i) {
    const RefusedSlot& slot = diagram_.refused()[i];
    if (2 * of_day(diagram_.flows() + i) > offered)
      larger_half = slot.part.empty() ? slot.cause : slot.part + ": " + slot.cause;
  }
  before_.assign(integral, integral + before_.size());
  for (; next_midnight_ <= reached; next_midnight_ += ticks_per_day) days_.push_back(larger_half);
}

}  // namespace overwinter
