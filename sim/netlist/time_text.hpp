// Points in time as people and loggers write them.
#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "models/model.hpp"
#include "sim/netlist/units_text.hpp"

namespace overwinter {

/// A point in time on the clock that it was written by.
struct ClockTime {
  Tick local = 0;              ///< since 1970-01-01 00:00 of that clock
  std::optional<Tick> offset;  ///< that clock minus UTC, where the text says it
};

/// How a column of times is written: ISO 8601, or a form such as "DD.MM.YYYY hh:mm:ss".
class TimeForm {
 public:
  /// ISO 8601: YYYY-MM-DD, then optionally T or a blank and hh:mm or hh:mm:ss, with a fraction of a second or without,
  /// and Z or an offset from UTC such as +01:00.
  TimeForm() = default;
  /// A form of YYYY, MM, DD, hh, mm and ss, in any order, and of other characters that stand for themselves; at least
  /// year, month and day. None, and the reason in `why`, otherwise.
  static std::optional<TimeForm> parse(const std::string& key, const std::string& form, TextFault& why);

  /// None for a text that is not so written, or whose day or time of day does not exist. 24:00 is the end of a day.
  /// Of a form's MM, DD, hh, mm and ss the leading zero may be missing where no digit follows.
  std::optional<ClockTime> read(std::string_view) const;

  /// How to write it, for messages.
  const std::string& text() const { return text_; }

 private:
  enum class Kind { year, month, day, hour, minute, second, literal };
  struct Token {
    Kind kind;
    char literal;
    bool exact;  ///< a digit follows, so that none may be left out
  };

  std::vector<Token> tokens_;  ///< empty: ISO 8601
  std::string text_ = "YYYY-MM-DD hh:mm";
};

/// "2024-10-15 06:30", with seconds only where there are any.
std::string clock_text(Tick local);

}  // namespace overwinter
