// Schottky blocking diode with reverse leakage that rises with temperature.
//
//   (1) I = Is (exp(Vj / (n Vt)) - 1) + G Vj     thermionic emission and edge leakage; Vt = k T / q
//                                                (Sze & Ng, Physics of Semiconductor Devices, 3rd ed., ch. 3)
//   (2) Is = Is25 (T/T25)^2 exp(-(phi/k)(1/T - 1/T25))   Richardson's law, same source; phi the barrier height
//   (3) G25 = (Ileak - Is25) / Vleak, and G follows Is over temperature   class assumption: passes through the
//                                                datasheet's leakage point and keeps its rise with temperature
//   (4) V = Vj + Rs I
//
// The diode is at air temperature; its own heat is neglected (class assumption: a few milliwatts).
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "models/model.hpp"
#include "models/smooth.hpp"
#include "models/table.hpp"
#include "models/thermal.hpp"

namespace overwinter {

struct SchottkyParameters {
  Current saturation_current{};
  double ideality = 1.05;
  Resistance series_resistance{0.0};
  Energy barrier_height{0.65 * 1.602176634e-19};
  std::optional<Current> leakage_current;
  Voltage leakage_voltage{10.0};
};

class Schottky final : public NetworkModel<Schottky, 2, 1> {
 public:
  explicit Schottky(const SchottkyParameters& p) : p_(p) {}
  static std::shared_ptr<const Model> build(const SchottkyParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void drive(const Ambient&, double* drive) const override;
  void flows(const View&, double* flow) const override;

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const VoltageOf<T> v{z[0] - z[1]}, junction{z[2]};
    const CurrentOf<T> i = current(view, junction);
    f[0] = i.si();
    f[1] = -i.si();
    f[2] = (v - junction - p_.series_resistance * i).si();  // (4)
  }

 private:
  enum Drive { saturation, slope_voltage, edge_conductance, drive_count };

  template <class T>
  CurrentOf<T> current(const View& view, const VoltageOf<T>& junction) const {
    const Current is{view.drive[saturation]};
    const Voltage n_vt{view.drive[slope_voltage]};
    const Conductance g{view.drive[edge_conductance]};
    return is * (bounded_exp(junction / n_vt) - 1.0) + g * junction;  // (1)
  }

  SchottkyParameters p_;
};

}  // namespace overwinter
