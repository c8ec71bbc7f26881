// Resistor: a wire, a shunt, a bleeder.
//
//   (1) I = V / R                                  Ohm's law (IEC 60050-131:2002, 131-12-15)
//   (2) R = R20 (1 + alpha (T - 20 degC))          linear resistance-temperature relation, T the air temperature
#pragma once

#include <memory>
#include <vector>

#include "models/model.hpp"
#include "models/table.hpp"

namespace overwinter {

struct ResistorParameters {
  Resistance resistance{};
  PerKelvin temperature_coefficient{0.0};
};

class Resistor final : public NetworkModel<Resistor, 2, 0> {
 public:
  explicit Resistor(const ResistorParameters& p) : p_(p) {}
  static std::shared_ptr<const Model> build(const ResistorParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  const ResistorParameters& parameters() const { return p_; }
  void drive(const Ambient&, double* drive) const override;
  void flows(const View&, double* flow) const override;

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const VoltageOf<T> v{z[0] - z[1]};
    const CurrentOf<T> i = v / resistance(view);  // (1)
    f[0] = i.si();
    f[1] = -i.si();
  }

 private:
  Resistance resistance(const View& view) const { return Resistance{view.drive[0]}; }
  ResistorParameters p_;
};

}  // namespace overwinter
