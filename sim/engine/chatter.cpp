#include "sim/engine/chatter.hpp"

#include <algorithm>

namespace overwinter {

namespace {

constexpr Tick minute = 60 * ticks_per_second;

}  // namespace

bool count_event(Context& c) {
  if (c.now - c.minute >= minute) {
    c.minute = c.now;
    c.events_in_minute = 0;
  }
  ++c.events;
  return ++c.events_in_minute <= most_events_a_minute;
}

bool count_leap(Context& c, Tick from, double in_all) {
  if (c.now == from) {
    c.events_in_minute += in_all;
    return c.events_in_minute <= most_events_a_minute;
  }
  const double rate = in_all / static_cast<double>(c.now - from);
  const auto events = [rate](Tick length) { return rate * static_cast<double>(length); };
  const Tick end_of_minute = c.minute + minute;
  if (from >= end_of_minute) {
    c.minute = from;
    c.events_in_minute = events(std::min(c.now - from, minute));
  } else {
    c.events_in_minute += events(std::min(c.now, end_of_minute) - from);
  }
  bool sound = c.events_in_minute <= most_events_a_minute;
  const Tick later = (c.now - c.minute) / minute;  // minutes begun after that one
  if (later > 0) {
    const Tick behind = later > 1 ? minute : c.now - c.minute - minute;
    sound = sound && events(behind) <= most_events_a_minute;
    c.minute += later * minute;
    c.events_in_minute = events(c.now - c.minute);
  }
  return sound;
}

}  // namespace overwinter
