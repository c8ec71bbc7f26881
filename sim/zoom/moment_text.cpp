#include "sim/zoom/moment_text.hpp"

#include "sim/netlist/time_text.hpp"
#include "sim/text.hpp"

namespace overwinter {

std::optional<Tick> parse_moment(const std::string& text, const MomentSpan& span, TextFault& why) {
  const std::optional<ClockTime> written = TimeForm().read(text);
  const std::string first = clock_text(span.begin + span.utc_offset);
  if (!written) {
    why = {in_quotes(text) + " is no time",
           "write YYYY-MM-DD hh:mm:ss such as \"" + first +
               "\", on the site's standard time, or in UTC with a Z behind it",
           0, text.size()};
    return std::nullopt;
  }
  const Tick moment = written->local - written->offset.value_or(span.utc_offset);
  if (moment >= span.begin && moment < span.end) return moment;
  why = {
      in_quotes(text) + " lies outside the scenario's span",
      "a time from " + first + " to before " + clock_text(span.end + span.utc_offset) + " of the site's standard time",
      0, text.size()};
  return std::nullopt;
}

std::optional<NumberedEvent> parse_event_number(const std::string& text, TextFault& why) {
  NumberedEvent event;
  event.brownout = !text.empty() && (text.front() == 'B' || text.front() == 'b');
  TextFault unused;
  const std::optional<int> number = parse_count("event", text.substr(event.brownout ? 1 : 0), unused);
  if (!number || *number < 1) {
    why = {in_quotes(text) + " is neither an event nor a brown-out",
           "the number of a row of events.csv, such as 12, or a brown-out's number in the report, such as B1", 0,
           text.size()};
    return std::nullopt;
  }
  event.number = *number;
  return event;
}

}  // namespace overwinter
