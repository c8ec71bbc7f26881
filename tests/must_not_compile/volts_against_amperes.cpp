#include "models/units.hpp"

using namespace overwinter;

bool smaller(Voltage a, [[maybe_unused]] Voltage b, [[maybe_unused]] Current c) {
#ifdef SPOILED
  return a < c;
#else
  return a < b;
#endif
}
