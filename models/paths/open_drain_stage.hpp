// A small N-channel transistor that turns a logic level into an open-drain pin, so that a controller's output can pull
// down the gate of a P-channel switch whose source stands higher than the controller's supply.
//
//   (1) I = V / Ron while its input is high, I = V Ileak / Vleak while it is low      open-drain output: common
//   practice
//
// Its own gate takes next to nothing and is driven well above its threshold by a logic level (class assumption). Left
// out: the body diode, which conducts only where the drain is pulled below ground.
#pragma once

#include <memory>
#include <vector>

#include "models/model.hpp"
#include "models/table.hpp"

namespace overwinter {

struct OpenDrainStageParameters {
  Resistance on_resistance{5.0};
  Current off_leakage{1e-6};
  Voltage off_leakage_voltage{20.0};
};

class OpenDrainStage final : public NetworkModel<OpenDrainStage, 2, 0> {
 public:
  explicit OpenDrainStage(const OpenDrainStageParameters& p) : p_(p) {}
  static std::shared_ptr<const Model> build(const OpenDrainStageParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  const OpenDrainStageParameters& parameters() const { return p_; }
  void flows(const View&, double* flow) const override;

  /// Pins: drain, ground.
  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const T i = conductance(view) * (z[0] - z[1]);  // (1)
    f[0] = i;
    f[1] = -i;
  }

 private:
  static bool pulls(const View& view) { return view.line[0] > 0; }
  double conductance(const View& view) const {
    return pulls(view) ? 1 / p_.on_resistance.si() : (p_.off_leakage / p_.off_leakage_voltage).si();
  }

  OpenDrainStageParameters p_;
};

}  // namespace overwinter
