// Damage: what parts went beyond their absolute limits (AbsoluteLimit of their tables), how often, how long, how far.
//
//   beyond     the guard of the limit's event is >= 0 where a step ends, and after the events of an instant; a state
//   that
//              lasts no time is none. It begins at the limit's event; of a step in which it ends without one, the share
//              that is beyond is taken from a straight line through the guard's two values
//   times      stretches beyond the limit. Two with less than a minute between them count as one: a supply that falls
//              and rises from phase to phase of a wake is one damage, not thousands
//   in loops   while restarts are stepped over (sim/engine/hiccup.hpp) nothing is looked at. That time is no distance
//              between two stretches; what is beyond before it and after it is beyond in it
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "sim/engine/simulator.hpp"

namespace overwinter {

/// One limit of one part.
struct Damage {
  std::string part;
  const AbsoluteLimit* limit = nullptr;
  std::size_t times = 0;
  Tick first = 0, last = 0;  ///< when it first went beyond, and when it last was
  double beyond = 0;         ///< s in all
  double worst = 0;          ///< SI, of the limit's value
  Tick worst_at = 0;
  double allowed = 0;  ///< SI, the limit that was in force then
};

/// Follows a run, and knows nothing of parts but their tables.
class DamageLog final : public RunWatcher {
 public:
  explicit DamageLog(const Diagram&);

  void on_step(Tick, const double* state, Evaluator&) override;
  void on_happening(const Happening&, const double* state, Evaluator&) override;
  void on_leap(const Leap&) override;
  /// What was damaged, in the order of parts and their tables.
  std::vector<Damage> damages() const;

 private:
  struct Watched {
    std::size_t part = 0;
    Damage damage;
    double guard = -1;           ///< at the latest look
    Tick looked = 0;             ///< when that was
    std::optional<Tick> within;  ///< since when it is not beyond any more; none before the first time
    bool is_beyond() const { return guard >= 0; }
  };
  static void look(Watched&, Tick now, Evaluator&);

  std::vector<Watched> watched_;
};

/// How often something was damaged, in all.
std::size_t times_damaged(const std::vector<Damage>&);

/// "logger above its 3.6 V supply limit 728 times, up to 4.18 V".
std::string damage_text(const Damage&);

/// "damage: ..., and ...", the most frequent first.
std::string damage_text(const std::vector<Damage>&);

}  // namespace overwinter
