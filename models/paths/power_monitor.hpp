// Power monitor: a shunt in the current path, and what its readings of voltage and current are worth.
//
//   (1) Vin - Vout = Rs I
//   (2) shown voltage = (1 + g) V + offset at its bus input, which is the pin `out`
//   (3) shown current = ((1 + g) Rs I + shunt offset) / Rs, resolution = shunt step / Rs
//                                                  datasheet terms of high-side shunt monitors: common practice
//   (4) own consumption I = Is from its supply pin, resistive below the lowest supply (demand.hpp); below it
//       the reading is 0
#pragma once

#include <memory>
#include <vector>

#include "models/loads/demand.hpp"
#include "models/model.hpp"
#include "models/table.hpp"

namespace overwinter {

struct PowerMonitorParameters {
  Resistance shunt{0.1};
  Voltage voltage_step{4e-3};
  Voltage voltage_offset{0.0};
  Voltage voltage_noise{0.0};
  Voltage shunt_step{10e-6};
  Voltage shunt_offset{0.0};
  double gain_error = 0;
  Current supply_current{0.5e-3};
  Voltage minimum_supply{2.7};
  int noise_seed = 1;
};

class PowerMonitor final : public NetworkModel<PowerMonitor, 4, 0> {
 public:
  explicit PowerMonitor(const PowerMonitorParameters& p) : p_(p) {}
  static std::shared_ptr<const Model> build(const PowerMonitorParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  const PowerMonitorParameters& parameters() const { return p_; }
  void flows(const View&, double* flow) const override;

  /// Pins: in, out, supply, ground.
  template <class T>
  void equations(const View&, const T* z, T* f) const {
    const T through = (z[0] - z[1]) * (1 / p_.shunt.si());  // (1)
    const T own = consumption(z[2] - z[3]);                 // (4)
    f[0] = through;
    f[1] = -through;
    f[2] = own;
    f[3] = -own;
  }

 private:
  template <class T>
  T consumption(const T& v) const {
    return demanded(Demand{Demand::current, p_.supply_current.si()}, v, p_.minimum_supply.si());
  }
  bool reads(const View& view) const { return view.z[2] - view.z[3] >= p_.minimum_supply.si(); }
  double shown_voltage(const View&) const;
  double shown_current(const View&) const;

  PowerMonitorParameters p_;
};

}  // namespace overwinter
