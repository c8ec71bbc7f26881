// Markov matrices of the daily clearness index.
//
// Source: Aguiar, Collares-Pereira & Conde 1988, Solar Energy 40:269. Ten classes of a month's mean clearness index,
// each with ten equally wide states between the class's least and greatest daily value. Row = today's state, column =
// tomorrow's, in thousandths as printed; rows sum to 997...1002 by rounding and must be normalised.
#pragma once

#include <array>

namespace overwinter {

struct ClearnessClass {
  double least;
  double greatest;
  std::array<std::array<int, 10>, 10> thousandths;
};

/// For monthly means up to 0.30, 0.35, 0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70 and above.
extern const std::array<ClearnessClass, 10> clearness_classes;

}  // namespace overwinter
