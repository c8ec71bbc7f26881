// The faults of a run in the order of their times: periods in which the same ones are in force, each with the models
// that the parts then have. The healthy model of a part is one of these; a faulted one is built from the part's
// parameters, changed through its table.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "sim/engine/diagram.hpp"

namespace overwinter {

struct FaultPeriod {
  /// What begins or ends with it, to be told.
  struct Turn {
    const DiagramPart* part = nullptr;  ///< null: of the site
    const Event* event = nullptr;
  };
  Tick begin = 0, end = never;
  std::vector<const Model*> models;  ///< per part
  std::vector<Turn> turns;
  std::string in_force;  ///< "; faults in force: cell short", for messages; empty without any
};

class FaultPlan {
 public:
  /// Over a run of these times; the diagram outlives it.
  FaultPlan(const Diagram&, Tick begin, Tick end);
  /// At least one; they follow each other from the run's begin, and the last one does not end.
  const std::vector<FaultPeriod>& periods() const { return periods_; }

 private:
  struct Timed {
    Tick begin, end;  ///< `never`: not before the run does
  };
  const Model* model(std::size_t part, const std::vector<std::size_t>& faults);
  void tell(FaultPeriod&, const DiagramFault&, Tick end, bool begins);
  void tell(FaultPeriod&, const DiagramFault&, std::string name, std::string meaning, EventRole);

  const Diagram& diagram_;
  std::vector<Timed> times_;
  std::vector<FaultPeriod> periods_;
  std::map<std::pair<std::size_t, std::vector<std::size_t>>, std::shared_ptr<const Model>> built_;
  std::deque<Event> events_;
};

/// What the name of a fault's end has behind that of its begin.
inline constexpr const char* fault_over_suffix = " over";

}  // namespace overwinter
