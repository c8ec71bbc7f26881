// Looks into an instant of a settled run: what its fast stores did in the microseconds and milliseconds after a
// switch-on, a burst or a recovery.
//
// The settled run steps over those transients. Where the worst case of one comes near a threshold (the input current
// limit's current, one network solve: the stresses of the parts), or where a store is switched on whose charge a rail
// cannot give without falling, the instant is simulated anew from its begin, with the fast stores integrated, until
// nothing moves any more. If something fails in it (a part cuts or is damaged, the controller browns out), the run goes
// on from its end; otherwise from the settled state, and what was seen is remembered:
//   (1) a_p - 1.5 (m_p - m'_p) >= 5 mV for every margin p
// is taken to be sound without another look, where a is the least that margin came to then, m its worst case then, m'
// its worst case now, all else being much the same. What is drawn at most is the same, so that the true dip grows by no
// more than the worst case's does; 1.5 is to be safe.
// A transient that could not begin as the settled run stands is refused (transient.hpp): it tells nothing, the settled
// state stands, and the run counts it.
// Of the failures between a completed wake and the next alarm two are looked into: nobody asks for the controller then,
// and a supply that runs down past its thresholds starts it some times.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "sim/engine/context.hpp"
#include "sim/engine/recording.hpp"
#include "sim/engine/simulator.hpp"

namespace overwinter {

/// A margin's worst case; V.
struct WorstCase {
  std::size_t part = 0, margin = 0;
  double value = 0;
};

/// What is to be known of an instant to compare it with another.
struct Instant {
  std::vector<CycleEvent> events;  ///< of its rounds
  std::vector<double> delivered;   ///< W, every part's at its end
  double missing_charge = 0;       ///< C, of stores switched on: ModelTable::missing_charge
  std::vector<WorstCase> worst;
};

/// An instant that was looked into and found sound.
struct SoundInstant {
  Instant instant;
  std::vector<double> least;  ///< V, every margin of the diagram in its order
  Tick length = 0;            ///< until nothing moved any more
};

/// V, below which a worst case is thin.
inline constexpr double thin_margin = 0.02;
/// C, above which a store is looked at as it is switched on: what a small output capacitor gives for 0.1 V.
inline constexpr double notable_charge = 2e-6;

/// Whether an instant is to be looked into.
bool is_thin(const Instant&);
/// By (1): an earlier one that stands for it, or null.
const SoundInstant* known_sound(const Instant&, const SoundInstants*);

class Microscope {
 public:
  Microscope(const Diagram&, const Weather&, const SimulatorOptions& settled);
  ~Microscope();

  struct Sight {
    Context end;  ///< in the transient, once nothing moves any more
    bool failed = false;
    std::string refused;        ///< why the transient could not begin (TransientRefused); then there is no end
    std::vector<double> least;  ///< V, as in SoundInstant
  };
  /// From the moment of the settled run at which the instant's events are due. `keep`: for tell().
  Sight follow(Simulator& settled, const Context& moment, bool keep);
  /// All of the last sight.
  void tell(const Sight&, RunWatcher&);
  const Simulator& transient() const { return *transient_; }
  /// The way back from the end of a sight.
  Context leave(Simulator& settled, const Context& end);

 private:
  class Probe;
  const Diagram& diagram_;
  std::unique_ptr<Probe> probe_;
  Recording recording_;
  std::unique_ptr<Simulator> transient_;
};

}  // namespace overwinter
