// A place where a fault can part or join two points: a solder joint or plug contact in series with a pin, which may
// break, or a bridge across two pins, which may come about. The reader of scenarios does not know it; the wiring has
// one where a fault asks for it.
//
//   (1) u = Va - Vb
//   (2) I = u / R            R may be infinite, so that the bridge is not there
//
// The drop u is an unknown of its own: so small beside the voltages of its ends, it would drown in their rounding, and
// the current with it.
#pragma once

#include <memory>
#include <vector>

#include "models/model.hpp"
#include "models/table.hpp"

namespace overwinter {

/// Sound, broken; a bridge of solder.
inline constexpr Resistance sound_joint{1e-4};   // a solder joint, 0.1 to 1 mohm: from memory
inline constexpr Resistance broken_joint{1e12};  // class assumption: nothing that counts, and yet no net without a path
inline constexpr Resistance solder_bridge{0.01};  // class assumption: a few millimetres of wire or solder

struct JointParameters {
  Resistance resistance = sound_joint;
};

class Joint final : public NetworkModel<Joint, 2, 1> {
 public:
  explicit Joint(const JointParameters& p) : conductance_(1 / p.resistance.si()) {}
  static std::shared_ptr<const Model> build(const JointParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void flows(const View&, double* flow) const override;

  template <class T>
  void equations(const View&, const T* z, T* f) const {
    const T i = z[2] * conductance_;  // (2)
    f[0] = i;
    f[1] = -i;
    f[2] = z[2] - (z[0] - z[1]);  // (1)
  }

 private:
  double conductance_;
};

}  // namespace overwinter
