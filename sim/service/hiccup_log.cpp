#include "sim/service/hiccup_log.hpp"

#include <algorithm>

namespace overwinter {

void HiccupLog::on_leap(const Leap& leap) {
  time_ += leap.end - leap.begin;
  energy_ += leap.energy;
  unbalanced_ += leap.unbalanced;
  for (const Leap::Part* stepped : {&leap.first, &leap.then}) {
    for (const CycleEvent& e : stepped->events) {
      const DiagramPart& part = diagram_.parts()[e.part];
      const Event& event = part.table->events[e.event];
      if (event.role != EventRole::cut && event.role != EventRole::brown_out) continue;
      auto total = std::find_if(failures_.begin(), failures_.end(),
                                [&](const HiccupTotal& t) { return t.part == part.name && t.event == event.name; });
      if (total == failures_.end()) total = failures_.insert(total, {part.name, event.name});
      total->times += stepped->times;
    }
  }
}

}  // namespace overwinter
