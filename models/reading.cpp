#include "models/reading.hpp"

namespace overwinter {

namespace {

/// Uniform in (0, 1).
double uniform(std::uint64_t key) {
  key += 0x9e3779b97f4a7c15u;
  key = (key ^ (key >> 30)) * 0xbf58476d1ce4e5b9u;
  key = (key ^ (key >> 27)) * 0x94d049bb133111ebu;
  key ^= key >> 31;
  return (static_cast<double>(key >> 11) + 0.5) * 0x1p-53;
}

}  // namespace

double normal_number(std::uint64_t seed, std::uint64_t n) {
  constexpr double two_pi = 6.283185307179586;
  const std::uint64_t key = seed * 0xd1342543de82ef95u + 2 * n;
  return std::sqrt(-2 * std::log(uniform(key))) * std::cos(two_pi * uniform(key + 1));
}

}  // namespace overwinter
