#include "models/paths/signal_line.hpp"

namespace overwinter {

const ModelTable& SignalLine::describe() {
  static const ModelTable table = [] {
    using P = SignalLineParameters;
    using M = SignalLine;
    TableBuilder<M, P> t(
        "signal-line", "Bus or logic lines that feed an unpowered part's supply through the clamp diodes of its pins.");
    t.equation("1", "I = n D(Vfrom - Vto), far above Vd n (Vfrom - Vto - Vd)/R",
               "Kirchhoff's voltage law; D: class assumption, rounded knee");
    t.equation("2", "I = 0 while the line is low", "class assumption");
    t.scalar("resistance", &P::resistance, "kohm")
        .required()
        .above(0)
        .at_most(1e9)
        .meaning(
            "R of each line: pull-up, source resistance of the output that drives it, or upper resistor of a divider");
    t.scalar("clamp_voltage", &P::clamp_voltage, "V")
        .at_least(0.2)
        .at_most(1.5)
        .meaning("Vd of the clamp diode from the pin to its part's supply")
        .source("0.6 V for a silicon junction at some 0.1 mA: common practice");
    t.count("lines", &P::lines).at_least(1).at_most(64).meaning("n: lines of this kind, side by side").source("one");

    t.pin("from", "net that pulls or drives the line high");
    t.pin("to", "supply net of the part at the other end");
    t.line_input("level", LineKind::logic, "whether the line is high; unconnected: always, as a bus at rest");
    t.output("current", unit_of<Current>("mA"), "into the part at the other end",
             [](const M& m, const View& v) { return m.current(v, v.z[0] - v.z[1]); });
    t.flow("heat", FlowKind::lost, "in resistor and clamp diode");
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> SignalLine::build(const SignalLineParameters& p, std::vector<Finding>&) {
  return std::make_shared<SignalLine>(p);
}

void SignalLine::flows(const View& view, double* flow) const {
  const double v = view.z[0] - view.z[1];
  flow[0] = v * current(view, v);
}

}  // namespace overwinter
