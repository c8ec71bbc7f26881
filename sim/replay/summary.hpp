// The numbers of a run: summary.json.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>

#include "sim/engine/simulator.hpp"
#include "sim/mechanisms/mechanism_log.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/replay/extremes.hpp"
#include "sim/service/damage.hpp"
#include "sim/service/hiccup_log.hpp"
#include "sim/service/margins.hpp"
#include "sim/service/refused_light.hpp"
#include "sim/service/service.hpp"
#include "sim/service/story.hpp"

namespace overwinter {

/// The index of the part that is the cell.
std::size_t cell_of(const Diagram&);

/// Collects what the summary needs before, during and after a run. Energies in J, charge in Ah, every number finite or
/// null.
///
/// Two residuals of the energy ledger, both over the throughput (the integral of the absolute power at the stores'
/// terminals): residual_ledger takes the change of the stores from their integrated flows, with the same nodes and
/// weights as everything else, and so closes to rounding; residual_independent takes it from the stores' states in
/// closed form. What restarts in vain that were stepped over leave unbalanced is no part of it: it is given with them.
class SummaryWriter {
 public:
  SummaryWriter(const Scenario&, const Diagram&, const Weather&, ExtremesLog&);
  void begin(const Context&, Evaluator&);
  /// `service` is null for a scenario in which nothing wakes. `cut_short`: where the run ended before its span did.
  nlohmann::ordered_json finish(const Context&, Simulator&, const ServiceRecord* service, const std::vector<Story>&,
                                const SunnyDays&, const RefusedLight&, const MarginLog&, const HiccupLog&,
                                const MechanismLog&, const DamageLog&, std::optional<Tick> cut_short);

 private:
  /// What was in force, in the order in which it was written; without an end, to the span's.
  nlohmann::ordered_json energy(const Context&, double stored_change, double unbalanced) const;
  double integral(const Context&, std::size_t part, const std::string& flow) const;

  const Scenario& scenario_;
  const Diagram& diagram_;
  const Weather& weather_;
  const std::size_t cell_;
  const WatchedOutput *charge_ = nullptr, *voltage_ = nullptr, *temperature_ = nullptr;
  double charge_at_start_ = 0, stored_at_start_ = 0;
};

}  // namespace overwinter
