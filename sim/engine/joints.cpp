#include "sim/engine/joints.hpp"

#include <algorithm>
#include <limits>
#include <map>
#include <memory>
#include <optional>
#include <utility>

#include "models/paths/joint.hpp"

namespace overwinter {

namespace {

constexpr Resistance nothing{std::numeric_limits<double>::infinity()};

class Jointer {
 public:
  explicit Jointer(const Scenario& s) : n_{s.parts, s.nets, {}} {
    n_.joints_of.resize(s.faults.size());
    for (std::size_t f = 0; f < s.faults.size(); ++f) {
      if (s.faults[f].kind == open_fault) n_.joints_of[f] = once(opened_, s.faults[f].part, &Jointer::open);
    }
    for (std::size_t f = 0; f < s.faults.size(); ++f) {
      if (s.faults[f].kind == short_fault) n_.joints_of[f] = once(shorted_, s.faults[f].part, &Jointer::bridge);
    }
  }
  JointedNetlist take() { return std::move(n_); }

 private:
  using Made = std::map<std::string, std::vector<std::size_t>>;

  /// Faults of a kind on the same part share their joints.
  const std::vector<std::size_t>& once(Made& made, const std::string& part,
                                       std::vector<std::size_t> (Jointer::*make)(std::size_t)) {
    const auto known = made.find(part);
    if (known != made.end()) return known->second;
    const auto at =
        std::find_if(n_.parts.begin(), n_.parts.end(), [&](const ScenarioPart& p) { return p.name == part; });
    return made[part] = (this->*make)(static_cast<std::size_t>(at - n_.parts.begin()));
  }

  /// The net of a pin; none for a pin that hangs on no net, which is on the reference.
  std::optional<std::size_t> net_of(PinRef pin) const {
    for (std::size_t n = 0; n < n_.nets.size(); ++n) {
      for (const PinRef& other : n_.nets[n].pins) {
        if (other.part == pin.part && other.pin == pin.pin) return n;
      }
    }
    return std::nullopt;
  }
  bool grounded(PinRef pin) const {
    const auto net = net_of(pin);
    return !net || n_.nets[*net].name == "gnd";
  }

  std::size_t add_joint(std::string name, Resistance resistance, Resistance leakage) {
    auto parameters = std::make_shared<JointParameters>();
    parameters->resistance = resistance;
    parameters->leakage = leakage;
    ScenarioPart joint;
    joint.name = std::move(name);
    joint.table = &Joint::describe();
    joint.model = std::make_shared<Joint>(*parameters);
    joint.parameters = std::move(parameters);
    n_.parts.push_back(std::move(joint));
    return n_.parts.size() - 1;
  }

  std::vector<std::size_t> open(std::size_t part) {
    const std::size_t pins = n_.parts[part].table->pins.size();
    std::vector<std::size_t> broken, joints;
    for (std::size_t pin = 0; pin < pins; ++pin) {
      if (!grounded({part, pin})) broken.push_back(pin);
    }
    std::optional<std::size_t> reference;  // the net of the pin that stays; none: the reference itself
    if (broken.size() == pins) {
      reference = net_of({part, broken.back()});
      broken.pop_back();
    }
    for (const std::size_t pin : broken) {
      const std::string name = n_.parts[part].name + "." + n_.parts[part].table->pins[pin].name;
      const std::size_t joint = add_joint(name + " joint", sound_joint, board_leakage);
      joints.push_back(joint);
      std::vector<PinRef>& outside = n_.nets[*net_of({part, pin})].pins;
      std::find_if(outside.begin(), outside.end(), [&](const PinRef& p) {
        return p.part == part && p.pin == pin;
      })->part = joint;
      for (PinRef& p : outside) {
        if (p.part == joint) p.pin = 0;
      }
      ScenarioNet behind;
      behind.name = name + " behind joint";
      behind.pins = {{joint, 1}, {part, pin}};
      n_.nets.push_back(std::move(behind));
      if (reference) n_.nets[*reference].pins.push_back({joint, 2});
    }
    return joints;
  }

  /// Behind the joints that the part has: what opens it parts it from its bridge too.
  std::vector<std::size_t> bridge(std::size_t part) {
    const std::size_t joint = add_joint(n_.parts[part].name + " bridge", nothing, nothing);
    for (const std::size_t pin : {0, 1}) {
      if (const auto net = net_of({part, pin})) n_.nets[*net].pins.push_back({joint, pin});
    }
    return {joint};
  }

  JointedNetlist n_;
  Made opened_, shorted_;
};

}  // namespace

JointedNetlist with_joints(const Scenario& scenario) { return Jointer(scenario).take(); }

}  // namespace overwinter
