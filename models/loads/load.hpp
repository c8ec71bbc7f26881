// A load with a daily schedule: resistive, constant-current or constant-power.
//
//   (1) resistive          I = k V / R
//   (2) constant current   I = k I0            for V >= Vmin
//   (3) constant power     I = k P / V         for V >= Vmin
//   (4) below Vmin, the supply range of what the load feeds, (2) and (3) turn resistive through the same point
//                                              all four: demand.hpp
//
// Stuck on, it does not listen to the enable line; stuck off, it draws nothing.
//
// k is the schedule's level at the time of day (standard time), 1 without a schedule; 0 while the enable line is low.
// Definitions: common practice (load models by constant impedance, current and power).
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "models/loads/demand.hpp"
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
  bool ignores_enable = false;  ///< by a fault
};

class Load final : public NetworkModel<Load, 2, 0> {
 public:
  explicit Load(const LoadParameters& p);
  static std::shared_ptr<const Model> build(const LoadParameters&, std::vector<Finding>&);
  static const ModelTable& describe();

  const ModelTable& table() const override { return describe(); }
  void start(const Ambient&, Writable&) const override;
  void flows(const View&, double* flow) const override;
  const LoadParameters& parameters() const { return p_; }

  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    const T i = demanded(demand(view), z[0] - z[1], p_.minimum_supply.si());
    f[0] = i;
    f[1] = -i;
  }

 private:
  double level(const View& view) const;
  void follow_schedule(Writable&) const;

  Demand demand(const View&) const;
  double current(const View& view) const {
    return demanded(demand(view), view.z[0] - view.z[1], p_.minimum_supply.si());
  }

  LoadParameters p_;
};

}  // namespace overwinter
