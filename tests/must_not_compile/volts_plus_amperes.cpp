#include "models/units.hpp"

using namespace overwinter;

Voltage sum(Voltage a, Voltage b, [[maybe_unused]] Current c) {
#ifdef SPOILED
  return a + b + c;
#else
  return a + b;
#endif
}
