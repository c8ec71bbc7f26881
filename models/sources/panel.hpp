// Photovoltaic panel: light on its plane, cell temperature, single-diode curve.
//
//   (1) G = tau (K(theta) Gbeam + Gsky + Gground)     plane-of-array light behind cover and dirt; K:
//   light/transposition (2) Tc = Tair + (NOCT - 20 degC) G / 800 W/m2     Ross 1976; NOCT conditions of IEC 61215 (3)
//   I(Vj), Vj = V + Rs I at (G, Tc)               single_diode.hpp
//
// A panel sold only by a label, "x V, y mA", takes the rest from its class, and the run reports that:
//   (4) Vmp = label voltage, Imp = label current, Voc = 1.2 Vmp, Isc = 1.08 Imp      class assumption: small
//       encapsulated crystalline-silicon panels
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "models/light/transposition.hpp"
#include "models/model.hpp"
#include "models/smooth.hpp"
#include "models/sources/single_diode.hpp"
#include "models/table.hpp"

namespace overwinter {

struct PanelParameters {
  std::optional<Current> short_circuit_current, maximum_power_current, label_current;
  std::optional<Voltage> open_circuit_voltage, maximum_power_voltage, label_voltage;
  std::optional<int> cells;
  PerKelvin current_coefficient{0.0005};
  PerKelvin voltage_coefficient{-0.0032};
  Temperature nominal_operating_temperature = celsius(45);
  Angle tilt{};
  Angle azimuth{};
  double transmittance = 1.0;
  double incidence_loss = 0.05;
  SkyModel sky = SkyModel::hay_davies;
};

class Panel final : public NetworkModel<Panel, 2, 1> {
 public:
  Panel(const PanelParameters&, const PanelDatasheet&, const SingleDiode& reference,
        std::vector<std::string> assumptions);
  static std::shared_ptr<const Model> build(const PanelParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void drive(const Ambient&, double* drive) const override;
  void flows(const View&, double* flow) const override;
  std::vector<std::string> assumptions() const override { return assumptions_; }

  const PanelParameters& parameters() const { return p_; }
  /// The five parameters at 1000 W/m2 and 25 degC.
  const SingleDiode& reference() const { return reference_; }
  /// Of the nameplate: maximum power at 1000 W/m2 and 25 degC.
  Power rated_power() const { return datasheet_.maximum_power_voltage * datasheet_.maximum_power_current; }

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const VoltageOf<T> v{z[0] - z[1]}, junction{z[2]};
    const CurrentOf<T> out = current(view, junction);
    f[0] = -out.si();
    f[1] = out.si();
    f[2] = (junction - v - reference_.series * out).si();  // (3)
  }

 private:
  enum Drive { light, saturation, slope, shunt, plane_irradiance_, cell_temperature, offered, drive_count };

  template <class T>
  CurrentOf<T> current(const View& view, const VoltageOf<T>& junction) const {
    const Current il{view.drive[light]}, i0{view.drive[saturation]};
    const Voltage a{view.drive[slope]};
    const Conductance g{view.drive[shunt]};
    return il - i0 * (bounded_exp(junction / a) - 1.0) - g * junction;  // single_diode.hpp (1)
  }

  PanelParameters p_;
  PanelDatasheet datasheet_;
  SingleDiode reference_;
  std::vector<std::string> assumptions_;
};

}  // namespace overwinter
