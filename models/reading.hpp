// What a power monitor shows, with its errors, and what the firmware reads of it.
//
//   (1) shown = gain v + offset                        datasheet terms: gain error and offset, common practice
//   (2) read = step round((shown + noise g) / step)    g a standard normal number; rounding to the resolution has an
//                                                      rms error of step / sqrt(12): Bennett 1948, Bell Syst. Tech. J.
//                                                      27
#pragma once

#include <cmath>
#include <cstddef>
#include <cstdint>

namespace overwinter {

/// A line of kind reading carries these numbers.
struct Reading {
  static constexpr std::size_t width = 4;
  double shown = 0;  ///< V, gain and offset already in it, noise and rounding not
  double noise = 0;  ///< V rms
  double step = 0;   ///< V, resolution; 0 for none
  double seed = 0;   ///< of the noise

  static Reading from(const double* line) { return {line[0], line[1], line[2], line[3]}; }
  void to(double* line) const {
    line[0] = shown;
    line[1] = noise;
    line[2] = step;
    line[3] = seed;
  }
  /// What the firmware reads with the standard normal number g, V.
  double read(double g) const {
    const double value = shown + noise * g;
    return step > 0 ? step * std::round(value / step) : value;  // (2)
  }
};

/// A standard normal number that depends on its arguments only: the n-th of the sequence named by the seed.
/// Box & Muller 1958, Ann. Math. Stat. 29, 610-611, on two outputs of a 64-bit mixing function (Steele, Lea & Flood
/// 2014, OOPSLA, 453-472).
double normal_number(std::uint64_t seed, std::uint64_t n);

}  // namespace overwinter
