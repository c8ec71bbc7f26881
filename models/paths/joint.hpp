// A place where a fault can part or join two points: a solder joint or plug contact in series with a pin, which may
// break, or a bridge across two pins, which may come about. The reader of scenarios does not know it; the wiring has
// one where a fault asks for it.
//
//   (1) u = Va - Vb
//   (2) I = u / R                R may be infinite, so that the bridge is not there
//   (3) Ileak = (Vb - Vr) / Rl   from what is behind the joint to the part's reference: parted from its net, a pin
//                                loses what charge it has, also where the part itself draws nothing
//
// The drop u is an unknown of its own: so small beside the voltages of its ends, it would drown in their rounding, and
// the current with it.
#pragma once

#include <limits>
#include <memory>
#include <vector>

#include "models/model.hpp"
#include "models/table.hpp"

namespace overwinter {

/// Sound, broken; a bridge of solder.
inline constexpr Resistance sound_joint{1e-4};   // a solder joint, 0.1 to 1 mohm: from memory
inline constexpr Resistance broken_joint{1e12};  // class assumption: nothing that counts, and yet no net without a path
inline constexpr Resistance board_leakage{1e11};  // class assumption: surface leakage of a board
inline constexpr Resistance solder_bridge{0.01};  // class assumption: a few millimetres of wire or solder

struct JointParameters {
  Resistance resistance = sound_joint;
  Resistance leakage{std::numeric_limits<double>::infinity()};  ///< Rl
};

class Joint final : public NetworkModel<Joint, 3, 1> {
 public:
  explicit Joint(const JointParameters& p) : conductance_(1 / p.resistance.si()), leakage_(1 / p.leakage.si()) {}
  static std::shared_ptr<const Model> build(const JointParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  bool joins() const { return conductance_ > 0; }  ///< not a bridge that is not there
  void flows(const View&, double* flow) const override;

  template <class T>
  void equations(const View&, const T* z, T* f) const {
    const T i = z[3] * conductance_;          // (2)
    const T leak = (z[1] - z[2]) * leakage_;  // (3)
    f[0] = i;
    f[1] = leak - i;
    f[2] = -leak;
    f[3] = z[3] - (z[0] - z[1]);  // (1)
  }

 private:
  double conductance_, leakage_;  // S
};

}  // namespace overwinter
