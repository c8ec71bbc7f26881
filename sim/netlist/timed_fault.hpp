// Faults that parts are given for a time: the section `faults` of a scenario, and the option --fault.
//
//   faults:
//     - {part: panel-south, fault: soiled, by: 60 %, at: 2025-01-10 06:00, for: 5 d}
//     - {fault: cold-snap, by: 15 K, at: 2025-01-12, for: 3 d}
#pragma once

#include <string>
#include <vector>

#include "models/table.hpp"

namespace overwinter {

/// Begin and end are counted from the begin of the span's first day, so that a span in another year takes them along.
struct TimedFault {
  std::string part;  ///< empty: it befalls the site
  std::string kind;
  FaultValues values;  ///< but `until`
  Tick begin = 0, end = never;
};

/// Of every part: open and short. They have nothing to apply to parameters: the wiring makes them.
extern const std::string open_fault, short_fault;
const std::vector<FaultForm>& faults_of_every_part();
/// Of the site: a cold snap.
extern const std::string cold_snap;
const std::vector<FaultForm>& faults_of_the_site();

/// Of a clock: no alarm comes while it lasts.
extern const std::string clock_stopped;

/// Those that parts of a model can be given, those of every part first.
std::vector<const FaultForm*> faults_of(const ModelTable&);
/// Every kind there is, each once.
std::vector<const FaultForm*> all_faults();
/// Null where there is none of that kind.
const FaultForm* find_fault(const std::vector<const FaultForm*>&, const std::string& kind);

/// What is said of it beside its kind and time, such as "by 60 %"; empty where nothing is.
std::string details_of(const TimedFault&);
/// "panel-south soiled by 60 %".
std::string text_of(const TimedFault&);

}  // namespace overwinter
