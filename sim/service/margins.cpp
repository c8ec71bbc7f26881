#include "sim/service/margins.hpp"

#include <algorithm>

namespace overwinter {

MarginLog::MarginLog(const Diagram& diagram, const Service& service) : diagram_(diagram), service_(service) {
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    const DiagramPart& part = diagram.parts()[p];
    for (std::size_t m = 0; m < part.table->margins.size(); ++m) {
      slots_.push_back({p, m});
      for (const bool worst : {false, true}) {
        ThinnestMargin t;
        t.part = &part;
        t.margin = &part.table->margins[m];
        t.worst_case = worst;
        all_.push_back(t);
      }
    }
  }
  asked_.assign(slots_.size(), true);
}

void MarginLog::on_step(Tick reached, const double*, Evaluator& system) {
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    const DiagramPart& part = diagram_.parts()[slots_[i].part];
    // Beyond a threshold the value says only what followed from crossing it.
    const double value = std::max(
        0.0, part.table->margins[slots_[i].margin].value(system.model(slots_[i].part), system.view(slots_[i].part)));
    ThinnestMargin& thinnest = all_[2 * i];
    if (value < thinnest.value && service_.asks(diagram_.parts()[slots_[i].part], system)) {
      thinnest.value = value;
      thinnest.at = reached;
      thinnest.crossed = value == 0;
    }
  }
}

void MarginLog::on_happening(const Happening& h, const double* state, Evaluator& system) {
  on_step(h.time, state, system);  // what fires a guard lies on no accepted step
  if (!h.event || !h.event->load_step) return;
  for (std::size_t i = 0; i < slots_.size(); ++i) asked_[i] = service_.asks(diagram_.parts()[slots_[i].part], system);
}

void MarginLog::on_worst_case(Tick at, std::size_t part, std::size_t margin, double value) {
  for (std::size_t i = 0; i < slots_.size(); ++i) {
    if (slots_[i].part != part || slots_[i].margin != margin || !asked_[i]) continue;
    ThinnestMargin& thinnest = all_[2 * i + 1];
    if (value < thinnest.value) {
      thinnest.value = value;
      thinnest.at = at;
    }
  }
}

const ThinnestMargin* MarginLog::thinnest() const {
  const auto least = std::min_element(all_.begin(), all_.end(), [](const ThinnestMargin& a, const ThinnestMargin& b) {
    if (a.crossed != b.crossed) return a.crossed;
    return a.crossed ? a.at < b.at : a.value < b.value;
  });
  return least == all_.end() || least->value == std::numeric_limits<double>::infinity() ? nullptr : &*least;
}

}  // namespace overwinter
