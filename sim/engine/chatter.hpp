// Chatter: parts that switch each other on and off without rest. A run would go on for hours of computing time and tell
// nothing; it is an error of the instrument, or of its description.
//
// More than 60000 events within a minute of simulated time are chatter (class assumption: in the busiest reset loops
// known, of charger, protector and converter at once, there are 11000; without rest there are millions). Minutes
// begin with an event and follow one another. What is simulated unseen and what happens in a transient counts in the
// context that it happens to; of what is stepped over, its rate does.
#pragma once

#include "sim/engine/context.hpp"

namespace overwinter {

inline constexpr double most_events_a_minute = 60000;

/// Counts an event at the context's time. False where it is one too many.
bool count_event(Context&);

/// Counts the events of a leap to the context's time, so many in all. False where a minute of it has too many.
bool count_leap(Context&, Tick from, double events);

}  // namespace overwinter
