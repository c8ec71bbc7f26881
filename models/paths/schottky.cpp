#include "models/paths/schottky.hpp"

#include <algorithm>

namespace overwinter {

const ModelTable& Schottky::describe() {
  static const ModelTable table = [] {
    using P = SchottkyParameters;
    TableBuilder<Schottky, P> t("schottky", "A Schottky blocking diode whose reverse leakage rises with temperature.");
    const std::string sze = "Sze & Ng, Physics of Semiconductor Devices, 3rd ed. 2007, ch. 3";
    t.equation("1", "I = Is (exp(Vj / (n Vt)) - 1) + G Vj, Vt = k T / q", sze);
    t.equation("2", "Is = Is25 (T/T25)^2 exp(-(phi/k)(1/T - 1/T25))", sze);
    t.equation("3", "G25 = (Ileak - Is25) / Vleak; G follows Is over temperature", "class assumption");
    t.equation("4", "V = Vj + Rs I", "Kirchhoff's voltage law");
    t.scalar("saturation_current", &P::saturation_current, "uA")
        .required()
        .above(0)
        .at_most(1e-2)
        .meaning("Is at 25 degC: from one forward point (Vf, If) of the datasheet, If / (exp(Vf/(n 25.69 mV)) - 1)");
    t.scalar("ideality", &P::ideality, "1")
        .at_least(0.5)
        .at_most(3)
        .meaning("slope factor n of the forward curve")
        .source("1.02 to 1.15 for Schottky junctions: common practice");
    t.scalar("series_resistance", &P::series_resistance, "ohm")
        .at_least(0)
        .at_most(100)
        .meaning("ohmic part of the forward drop, from the slope at rated current");
    t.scalar("barrier_height", &P::barrier_height, "eV")
        .at_least(0.1 * elementary_charge.si())
        .at_most(1.6 * elementary_charge.si())
        .meaning("phi: sets how fast leakage rises with temperature; 0.65 eV doubles it about every 8 K near 25 degC")
        .source("0.6 to 0.8 eV for metals on silicon: Sze & Ng 2007, ch. 3");
    t.scalar("leakage_current", &P::leakage_current, "uA")
        .above(0)
        .at_most(0.1)
        .meaning("reverse current at leakage_voltage and 25 degC, the datasheet's \"reverse current\"");
    t.scalar("leakage_voltage", &P::leakage_voltage, "V")
        .above(0)
        .at_most(1000)
        .meaning("reverse voltage at which leakage_current is stated")
        .source("class assumption");
    t.pin("anode", "towards the panel");
    t.pin("cathode", "towards the charger");
    t.unknown("junction", unit_of<Voltage>("V"), "voltage across the junction, without the series resistance");
    t.output("current", unit_of<Current>("mA"), "forward current, negative when leaking backwards",
             [](const Schottky& m, const View& v) { return m.current(v, Voltage{v.z[2]}).si(); });
    t.flow("conduction", FlowKind::lost, "forward drop times current");
    t.flow("leakage", FlowKind::lost, "reverse voltage times leakage");
    t.drives(drive_count);
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> Schottky::build(const SchottkyParameters& p, std::vector<Finding>& findings) {
  if (p.leakage_current && *p.leakage_current < p.saturation_current) {
    findings.push_back({"leakage_current", "the reverse current is smaller than the saturation current",
                        "a junction leaks at least its saturation current; lower saturation_current or raise "
                        "leakage_current"});
    return nullptr;
  }
  return std::make_shared<Schottky>(p);
}

void Schottky::drive(const Ambient& ambient, double* drive) const {
  const Temperature t = ambient.air, t25 = reference_temperature;
  const double rise = (t / t25) * (t / t25) / arrhenius(p_.barrier_height, t);  // (2)
  drive[saturation] = (p_.saturation_current * rise).si();
  drive[slope_voltage] = (p_.ideality * thermal_voltage(t)).si();
  const Current excess = p_.leakage_current ? *p_.leakage_current - p_.saturation_current : Current{0.0};
  drive[edge_conductance] = (excess / p_.leakage_voltage * rise).si();  // (3)
}

void Schottky::flows(const View& view, double* flow) const {
  const Current i = current(view, Voltage{view.z[2]});
  const double heat = (Voltage{view.z[0] - view.z[1]} * i).si();
  flow[0] = i.si() >= 0 ? heat : 0.0;
  flow[1] = i.si() >= 0 ? 0.0 : heat;
}

}  // namespace overwinter
