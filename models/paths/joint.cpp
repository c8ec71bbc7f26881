#include "models/paths/joint.hpp"

namespace overwinter {

const ModelTable& Joint::describe() {
  static const ModelTable table = [] {
    TableBuilder<Joint, JointParameters> t("joint", "A joint that may break, or a bridge across two pins.");
    t.equation("1", "u = Va - Vb", "Kirchhoff's voltage law");
    t.equation("2", "I = u / R", "Ohm's law, IEC 60050-131:2002, 131-12-15");
    t.scalar("resistance", &JointParameters::resistance, "ohm").above(0).meaning("between its ends");
    t.pin("a", "one end");
    t.pin("b", "the other end");
    t.unknown("drop", unit_of<Voltage>("V"), "voltage across it");
    t.output("current", unit_of<Current>("mA"), "from a to b",
             [](const Joint& m, const View& v) { return v.z[2] * m.conductance_; });
    t.flow("heat", FlowKind::lost, "u I");
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> Joint::build(const JointParameters& p, std::vector<Finding>&) {
  return std::make_shared<Joint>(p);
}

void Joint::flows(const View& view, double* flow) const { flow[0] = view.z[2] * view.z[2] * conductance_; }

}  // namespace overwinter
