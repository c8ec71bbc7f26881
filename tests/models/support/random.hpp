// Repeatable random numbers: std::uniform_real_distribution differs between standard libraries, the engine does not.
#pragma once

#include <cstdint>
#include <random>

namespace overwinter::test {

class Random {
 public:
  explicit Random(std::uint64_t seed) : engine_(seed) {}
  double between(double low, double high) {
    return low + (high - low) * (static_cast<double>(engine_() >> 11) * 0x1p-53);
  }
  /// 0 to `highest`, both included.
  int up_to(int highest) { return static_cast<int>(between(0, highest + 1.0)); }

 private:
  std::mt19937_64 engine_;
};

}  // namespace overwinter::test
