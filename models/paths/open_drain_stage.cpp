#include "models/paths/open_drain_stage.hpp"

namespace overwinter {

const ModelTable& OpenDrainStage::describe() {
  static const ModelTable table = [] {
    using P = OpenDrainStageParameters;
    using M = OpenDrainStage;
    TableBuilder<M, P> t(
        "open-drain-stage",
        "A small N-channel transistor: a logic level in, an open-drain pin out, as for a switch's gate.");
    t.equation("1", "I = V/Ron while its input is high, V Ileak/Vleak while it is low",
               "open-drain output: common practice");
    t.scalar("on_resistance", &P::on_resistance, "ohm")
        .above(0)
        .at_most(1e5)
        .meaning("Ron, drain to ground while the input is high")
        .source("1 to 5 ohm for small-signal transistors at logic levels: common practice");
    t.scalar("off_leakage", &P::off_leakage, "uA")
        .at_least(0)
        .at_most(1e-3)
        .meaning("Ileak, drain to ground while the input is low, at off_leakage_voltage")
        .source("1 uA, a usual datasheet limit: common practice");
    t.scalar("off_leakage_voltage", &P::off_leakage_voltage, "V")
        .above(0)
        .at_most(1000)
        .meaning("Vleak: voltage at which off_leakage is stated")
        .source("20 V: common practice");
    t.pin("drain", "pulls its line down while the input is high", PinRole::open_drain);
    t.pin("ground", "return");
    t.line_input("input", LineKind::logic, "high: the drain pulls", true);
    t.output("pulling", unit_of<double>("1"), "whether the drain pulls",
             [](const M&, const View& v) { return pulls(v) ? 1.0 : 0.0; }, {"no", "yes"});
    t.flow("heat", FlowKind::lost, "drain voltage times current");
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> OpenDrainStage::build(const OpenDrainStageParameters& p, std::vector<Finding>&) {
  return std::make_shared<OpenDrainStage>(p);
}

void OpenDrainStage::flows(const View& view, double* flow) const {
  const double v = view.z[0] - view.z[1];
  flow[0] = v * v * conductance(view);
}

}  // namespace overwinter
