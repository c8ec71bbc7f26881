// Seeded random numbers that are the same everywhere: the standard fixes the engine's sequence, not the distributions'.
#pragma once

#include <cmath>
#include <cstdint>
#include <random>

#include "models/units.hpp"

namespace overwinter {

class Random {
 public:
  /// Streams of one seed are independent: one does not change when another draws more.
  Random(std::uint64_t seed, std::uint32_t stream) {
    std::seed_seq words{static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32), stream};
    engine_.seed(words);
  }

  /// Uniform in [0, 1), in steps of 2^-53.
  double uniform() { return static_cast<double>(engine_() >> 11) * 0x1p-53; }

  /// Standard normal (Box & Muller 1958).
  double normal() {
    const double radius = std::sqrt(-2.0 * std::log(1.0 - uniform()));
    return radius * std::cos(2.0 * pi * uniform());
  }

 private:
  std::mt19937_64 engine_;
};

}  // namespace overwinter
