#include "sim/service/feeding.hpp"

#include <algorithm>
#include <set>
#include <string>

#include "models/paths/joint.hpp"
#include "models/paths/p_switch.hpp"
#include "models/paths/resistor.hpp"
#include "sim/netlist/feeds.hpp"

namespace overwinter {

namespace {

/// Models whose first two pins are the ends of a way.
const std::set<std::string> carriers = {"joint",    "resistor", "schottky",       "protector",
                                        "p-switch", "boost",    "linear-charger", "power-monitor"};

const Output* output_of(const ModelTable& table, const std::string& name) {
  const auto found =
      std::find_if(table.outputs.begin(), table.outputs.end(), [&](const Output& o) { return o.name == name; });
  return found == table.outputs.end() ? nullptr : &*found;
}

bool is_off(const Output& conducting, const Model& model, const View& view) {
  return conducting.labels.at(static_cast<std::size_t>(conducting.value(model, view))) == "off";
}

}  // namespace

Feeding::Feeding(const Diagram& diagram) : nets_(diagram.nets().size()) {
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    const DiagramPart& part = diagram.parts()[p];
    const std::string& model = part.table->name;
    if (model == "cell" || model == "panel") sources_.push_back(part.nets[0]);
    const auto* resistor = dynamic_cast<const Resistor*>(part.model.get());
    if (!carriers.count(model) || (resistor && resistor->parameters().resistance > wire_at_most)) continue;
    const auto* joint = dynamic_cast<const Joint*>(part.model.get());
    if (part.nets[0] < 0 || part.nets[1] < 0 || (joint && !joint->joins())) continue;
    const bool is_switch = dynamic_cast<const PSwitch*>(part.model.get());
    ways_.push_back({p, part.nets[0], part.nets[1], is_switch ? output_of(*part.table, "conducting") : nullptr});
  }
}

std::vector<bool> Feeding::reached(const std::vector<int>& from, const Evaluator& system) const {
  std::vector<bool> there(nets_);
  for (const int net : from) {
    if (net >= 0) there[static_cast<std::size_t>(net)] = true;
  }
  for (bool more = true; more;) {
    more = false;
    for (const Way& way : ways_) {
      const auto a = static_cast<std::size_t>(way.a), b = static_cast<std::size_t>(way.b);
      if (there[a] == there[b]) continue;
      if (way.conducting && is_off(*way.conducting, system.model(way.part), system.view(way.part))) continue;
      there[a] = there[b] = more = true;
    }
  }
  return there;
}

bool Feeding::fed(int net, const Evaluator& system) const {
  return net < 0 || sources_.empty() || reached(sources_, system)[static_cast<std::size_t>(net)];
}

bool Feeding::joined(int net, int other, const Evaluator& system) const {
  return net >= 0 && other >= 0 && reached({net}, system)[static_cast<std::size_t>(other)];
}

}  // namespace overwinter
