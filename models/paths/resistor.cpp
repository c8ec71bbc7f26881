#include "models/paths/resistor.hpp"

namespace overwinter {

const ModelTable& Resistor::describe() {
  static const ModelTable table = [] {
    using P = ResistorParameters;
    TableBuilder<Resistor, P> t("resistor", "A resistance between two pins: a wire, a shunt, a bleeder.");
    t.equation("1", "I = V / R", "Ohm's law, IEC 60050-131:2002, 131-12-15");
    t.equation("2", "R = R20 (1 + alpha (T - 20 degC)), T the air temperature", "common practice");
    t.scalar("resistance", &P::resistance, "ohm").required().above(0).at_most(1e9).meaning("resistance at 20 degC");
    t.scalar("temperature_coefficient", &P::temperature_coefficient, "1/K")
        .at_least(-0.01)
        .at_most(0.01)
        .meaning("relative change of resistance per kelvin; 0.00393 1/K for copper")
        .source("IEC 60028 for copper");
    t.pin("a", "one end");
    t.pin("b", "the other end");
    t.output("current", unit_of<Current>("mA"), "from a to b",
             [](const Resistor& m, const View& v) { return (Voltage{v.z[0] - v.z[1]} / m.resistance(v)).si(); });
    t.flow("heat", FlowKind::lost, "I^2 R");
    t.drives(1);
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> Resistor::build(const ResistorParameters& p, std::vector<Finding>&) {
  return std::make_shared<Resistor>(p);
}

void Resistor::drive(const Ambient& ambient, double* drive) const {
  drive[0] = (p_.resistance * (1 + p_.temperature_coefficient * (ambient.air - celsius(20)))).si();  // (2)
}

void Resistor::flows(const View& view, double* flow) const {
  const Voltage v{view.z[0] - view.z[1]};
  flow[0] = (v * v / resistance(view)).si();
}

}  // namespace overwinter
