#include "models/units.hpp"

using namespace overwinter;

Angle doubled([[maybe_unused]] double ratio, Angle a) {
#ifdef SPOILED
  return a + ratio;
#else
  return ratio * a;
#endif
}
