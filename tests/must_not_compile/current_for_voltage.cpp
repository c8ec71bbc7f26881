#include "models/units.hpp"

using namespace overwinter;

Current through(Voltage v, Resistance r) { return v / r; }

Current again([[maybe_unused]] Current i, Resistance r) {
#ifdef SPOILED
  return through(i, r);
#else
  return through(i * r, r);
#endif
}
