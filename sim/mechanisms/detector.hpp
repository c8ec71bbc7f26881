// What a detector of mechanisms is told, and where it files what it has seen.
#pragma once

#include <map>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "sim/engine/simulator.hpp"
#include "sim/mechanisms/instrument.hpp"
#include "sim/service/service.hpp"

namespace overwinter {

/// A mechanism at work in one part, over a run.
struct MechanismRecord {
  std::string id, part;
  double count = 0;    ///< about, where loops were stepped over
  std::string counts;  ///< what is counted: "event", "day", "loop", "sighting", "run"
  Tick first = 0, last = 0;
  std::string text;              ///< plain words with the numbers of the first time
  nlohmann::ordered_json facts;  ///< those numbers, SI, the unit in the key
};

/// What has been seen so far, by mechanism and part.
class MechanismBook {
 public:
  struct Words {
    std::string text;
    nlohmann::ordered_json facts;
  };
  MechanismRecord* find(const std::string& id, const std::string& part);
  const MechanismRecord* find(const std::string& id, const std::string& part) const;
  /// Counts once more; `words` says what, and is only called the first time.
  template <class Tell>
  MechanismRecord& file(const std::string& id, const std::string& part, Tick at, Tell&& words) {
    MechanismRecord* known = find(id, part);
    if (!known) known = &open(id, part, at, words());
    ++known->count;
    known->last = at;
    told_.push_back(known);
    return *known;
  }
  /// In the order of mechanisms(), then by part.
  std::vector<const MechanismRecord*> all() const;
  /// What was filed since this was last called.
  std::vector<const MechanismRecord*> news() { return std::exchange(told_, {}); }

 private:
  MechanismRecord& open(const std::string& id, const std::string& part, Tick at, Words);

  std::map<std::pair<std::size_t, std::string>, MechanismRecord> records_;
  std::vector<const MechanismRecord*> told_;
};

/// Watches for the mechanisms of one theme. Called seldom: what happens in every wake is told by its roles only, steps
/// not at all, but for the one that reaches the time a detector asks for and the one that ends a day.
class Detector {
 public:
  Detector(const Instrument& instrument, MechanismBook& book) : on_(instrument), book_(book) {}
  virtual ~Detector() = default;
  Detector(const Detector&) = delete;

  /// When it wants to look again; `never` where it does not.
  Tick look_at() const { return look_at_; }

  /// Events with a role, load steps, and those that are not routine. The state is the one before.
  virtual void on_happening(const Happening&, const double* /*state*/, Evaluator&) {}
  virtual void on_look(Tick, const double* /*state*/, Evaluator&) {}
  /// A day of the site's standard time has ended. The integrals of all flows since the start of the span.
  virtual void on_day(Tick, const double* /*integral*/, Evaluator&) {}
  virtual void on_leap(const Leap&) {}
  /// Once, at the end of the span, with the integrals then.
  virtual void finish(Tick, const double* /*integral*/, Evaluator&) {}

  /// The mechanism of the first link of a brown-out's chain, if it is one of its theme; empty otherwise.
  virtual std::string explains(const BrownOut&) const { return {}; }
  /// What is known of the moment of that link where no mechanism is; empty for nothing.
  virtual std::string remark(const BrownOut&) const { return {}; }
  /// The energy that the cell would have needed beside what it had so that the first link had not come, J; infinite
  /// where a full one would not have borne it either. None where that was not judged.
  virtual std::optional<double> needed(const BrownOut&) const { return std::nullopt; }
  /// A mechanism that emptied the cell up to then, and what that cost, J; an empty id where there is none.
  struct Shortage {
    std::string id;
    double joules = 0;
  };
  virtual std::vector<Shortage> shortages(Tick) const { return {}; }

 protected:
  const Instrument& on_;
  MechanismBook& book_;
  Tick look_at_ = never;
};

}  // namespace overwinter
