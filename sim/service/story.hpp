// Why the instrument browned out: for each brown-out, the numbers of its causal chain.
//
//   (1) E = V + R0 I              what the cell stands at behind its own resistance: open-circuit voltage and RC pairs
//   (2) Rp = (V - Vs) / I         the path from its terminals to where the threshold is watched, as this current finds
//   it (3) P = Vs I                  what the cell gives there so that Vs = (E + sqrt(E^2 - 4 R P)) / 2, R = R0 + Rp,
//   and P <= E^2 / (4 R)      textbook: a source with a
//                                                                                      resistance, constant-power load
// V: the cell's terminals, I its current, positive when discharging, all of the solved network at the moment of the
// event, before its reset. What is drawn and the energy of starts in vain come from the flows of the parts' tables, the
// threshold from their margins; no name of a part or event is looked for.
#pragma once

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/service/light_before.hpp"
#include "sim/service/refused_light.hpp"
#include "sim/service/service.hpp"

namespace overwinter {

/// The system at one moment.
struct Snapshot {
  Tick time = 0;
  std::string part, event;                                             ///< what happened then; both may be empty
  double charge = 0;                                                   ///< of the cell, 0...1
  double temperature = 0;                                              ///< of the cell, K
  double voltage = 0;                                                  ///< V: of the cell's terminals
  double current = 0;                                                  ///< I, A, positive when discharging
  double series = 0;                                                   ///< R0, ohm
  double inner_voltage() const { return voltage + series * current; }  // (1)

  /// The threshold that this part's event crossed.
  struct Crossed {
    std::string margin;          ///< its name in the part's table
    double limit = 0;            ///< V
    double reached = 0;          ///< V: Vs where it stands on the cell's side
    std::optional<double> path;  ///< Rp, ohm; none where it is not fed straight from the cell, or nothing is drawn
  };
  std::optional<Crossed> crossed;
  /// Where the threshold is watched if that is on the cell's side, otherwise at the cell's terminals.
  double drawn() const { return (crossed && crossed->path ? crossed->reached : voltage) * current; }  // (3)

  std::string doing;  ///< the running phase of the controller, or what it does instead
  bool in_phase = false;
  std::vector<std::pair<std::string, double>> users;  ///< parts and what they use, W, the largest first
  double interval = 0;                                ///< s: the sleep that was last set; 0 before that
};

/// One brown-out, told with numbers.
struct Story {
  /// Of the first link of its chain that crossed a threshold, or else the first. None where only the end of the run
  /// showed that it was a brown-out.
  std::optional<Snapshot> moment;
  std::optional<LightBefore> light;
  std::optional<double> charge_before;   ///< of the cell at the beginning of those days, 0...1
  double charge_in = 0, charge_out = 0;  ///< A s, through the cell's terminals since then
  double days_since = 0;                 ///< from there to the moment
  double energy_in_vain = 0;             ///< J: what starts that came to nothing used up
  std::optional<double> charge_back;     ///< of the cell when it came back, 0...1
  std::vector<ChainLink> blocked;        ///< parts that do not feed when the span ends without a completed wake
};

/// Follows a run beside its Service, which must have been told first.
class StoryLog final : public RunWatcher {
 public:
  StoryLog(const Scenario&, const Diagram&, const Service&, Tick begin);

  void on_step(Tick, const double* state, Evaluator&) override;
  void on_happening(const Happening&, const double* state, Evaluator&) override;
  void on_leap(const Leap&) override;
  /// A story for each brown-out of the record; `from` is the first day of the span.
  std::vector<Story> finish(const ServiceRecord&, const SunnyDays&, CivilDate from) const;

 private:
  struct Episode {
    std::vector<Snapshot> around;  ///< what had happened until it began, and at that instant
    double in = 0, out = 0;        ///< A s, integrals at its beginning
    double energy_in_vain = 0;
    std::optional<double> charge_back;
  };
  struct Midnight {
    double charge = 0, in = 0, out = 0;
  };

  Snapshot snapshot(Tick, const std::string& part, const std::string& event, Evaluator&) const;
  std::optional<Snapshot::Crossed> crossed(const DiagramPart&, const Snapshot&, Evaluator&) const;
  void notice(Tick, const double* state, Evaluator&);
  void keep(const Happening&, Evaluator&);
  double spent(const double* state) const;
  double output(std::size_t which, Evaluator&) const;

  const Diagram& diagram_;
  const Service& service_;
  const Tick begin_;
  std::size_t cell_ = 0;
  enum Read { read_charge, read_temperature, read_voltage, read_current, read_series, read_count };
  std::size_t outputs_[read_count] = {};
  std::size_t in_ = 0, out_ = 0;                            ///< the cell's charge_in and charge_out among the integrals
  std::vector<std::size_t> used_;                           ///< integrals of what is delivered or lost
  std::vector<std::pair<std::size_t, std::size_t>> users_;  ///< part and flow, of what is delivered
  std::vector<std::vector<bool>> cell_side_;                ///< per part and pin: fed straight from the cell

  std::vector<Midnight> midnights_;
  Tick next_midnight_;
  std::vector<Snapshot> cuts_, strained_;  ///< as Service keeps them
  std::vector<Episode> episodes_;
  bool starting_ = false;  ///< a start inside an episode, that has not come to an end
  double spent_before_ = 0;
};

}  // namespace overwinter
