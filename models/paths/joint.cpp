#include "models/paths/joint.hpp"

namespace overwinter {

const ModelTable& Joint::describe() {
  static const ModelTable table = [] {
    TableBuilder<Joint, JointParameters> t("joint", "A joint that may break, or a bridge across two pins.");
    t.equation("1", "u = Va - Vb", "Kirchhoff's voltage law");
    t.equation("2", "I = u / R", "Ohm's law, IEC 60050-131:2002, 131-12-15");
    t.scalar("resistance", &JointParameters::resistance, "ohm").above(0).meaning("between its ends");
    t.scalar("leakage", &JointParameters::leakage, "ohm").above(0).meaning("from the other end to the reference");
    t.pin("a", "one end");
    t.pin("b", "the other end");
    t.pin("reference", "of the part behind the joint");
    t.unknown("drop", unit_of<Voltage>("V"), "voltage across it");
    t.output("current", unit_of<Current>("mA"), "from a to b",
             [](const Joint& m, const View& v) { return v.z[3] * m.conductance_; });
    t.equation("3", "Ileak = (Vb - Vr) / Rl", "class assumption");
    t.flow("heat", FlowKind::lost, "u I, and in the leakage");
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> Joint::build(const JointParameters& p, std::vector<Finding>&) {
  return std::make_shared<Joint>(p);
}

void Joint::flows(const View& view, double* flow) const {
  const double leaking = view.z[1] - view.z[2];
  flow[0] = view.z[3] * view.z[3] * conductance_ + leaking * leaking * leakage_;
}

}  // namespace overwinter
