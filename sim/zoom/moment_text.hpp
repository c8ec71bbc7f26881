// Moments as people name them: by their time, by a row of events.csv, by the number of a brown-out.
#pragma once

#include <optional>
#include <string>

#include "models/model.hpp"
#include "sim/netlist/units_text.hpp"

namespace overwinter {

/// What a run simulates, and the site's standard time minus UTC.
struct MomentSpan {
  Tick begin = 0, end = 0, utc_offset = 0;
};

/// A time in ISO 8601 (as TimeForm reads it) from the span's begin to before its end: as events.csv has it, with Z or
/// an offset, else on the site's standard time. None, and the reason in `why`, otherwise.
std::optional<Tick> parse_moment(const std::string& text, const MomentSpan&, TextFault& why);

/// Something that a run without the zoom has numbered.
struct NumberedEvent {
  bool brownout = false;
  int number = 0;  ///< from 1: of the brown-out, as in the report; else of the row of events.csv behind its header
};

/// "12" is the twelfth event, "B2" the second brown-out. None, and the reason in `why`, otherwise.
std::optional<NumberedEvent> parse_event_number(const std::string& text, TextFault& why);

}  // namespace overwinter
