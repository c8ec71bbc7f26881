// What a controller last wrote to its clock.
#pragma once

#include <cstddef>

namespace overwinter {

/// A line of kind bus carries these numbers.
struct Bus {
  static constexpr std::size_t width = 4;
  double writes = 0;       ///< how often the controller has written; a change is a new write
  double interval = 0;     ///< s, whole: the alarm is to come so long after the instant from which it counts
  double clears_flag = 1;  ///< 1 where the write also clears the alarm flag, 0 where the firmware leaves it set
  double elapsed = 0;      ///< s from that instant to the write

  static Bus from(const double* line) { return {line[0], line[1], line[2], line[3]}; }
  void to(double* line) const {
    line[0] = writes;
    line[1] = interval;
    line[2] = clears_flag;
    line[3] = elapsed;
  }
};

}  // namespace overwinter
