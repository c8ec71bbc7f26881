// A load with a daily schedule: resistive, constant-current or constant-power.
//
//   (1) resistive          I = k V / R
//   (2) constant current   I = k I0            for V >= Vmin
//   (3) constant power     I = k P / V         for V >= Vmin
//   (4) below Vmin, the supply range of what the load feeds, (2) and (3) turn resistive through the same point:
//       I = k I0 V / Vmin,  I = k P V / Vmin^2
//
// k is the schedule's level at the time of day (standard time), 1 without a schedule. Definitions: common practice
// (load models by constant impedance, current and power).
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "models/model.hpp"
#include "models/table.hpp"

namespace overwinter {

enum class LoadKind { resistance, current, power };

struct LoadParameters {
  LoadKind kind = LoadKind::current;
  std::optional<Resistance> resistance;
  std::optional<Current> current;
  std::optional<Power> power;
  Voltage minimum_supply{2.5};
  Curve daily;
};

class Load final : public NetworkModel<Load, 2, 0> {
 public:
  explicit Load(const LoadParameters& p);
  static std::shared_ptr<const Model> build(const LoadParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void start(const Ambient&, Writable&) const override;
  void flows(const View&, double* flow) const override;

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const CurrentOf<T> i = current(view, VoltageOf<T>{z[0] - z[1]});
    f[0] = i.si();
    f[1] = -i.si();
  }

 private:
  double level(const View& view) const;
  void follow_schedule(Writable&) const;

  template <class T>
  CurrentOf<T> current(const View& view, const VoltageOf<T>& v) const {
    const double k = level(view);
    const bool supplied = v >= p_.minimum_supply;
    switch (p_.kind) {
      case LoadKind::resistance:
        return k * v / *p_.resistance;  // (1)
      case LoadKind::current:
        if (supplied) return k * *p_.current;              // (2)
        return k * *p_.current * (v / p_.minimum_supply);  // (4)
      case LoadKind::power:
        if (supplied) return k * *p_.power / v;                              // (3)
        return k * *p_.power * v / (p_.minimum_supply * p_.minimum_supply);  // (4)
    }
    return {};
  }

  LoadParameters p_;
};

}  // namespace overwinter
