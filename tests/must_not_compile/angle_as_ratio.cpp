#include "models/units.hpp"

using namespace overwinter;

double albedo(double ratio) { return ratio; }

double ground([[maybe_unused]] Angle tilt) {
#ifdef SPOILED
  return albedo(tilt);
#else
  return albedo(0.5 * (1 - cos(tilt)));
#endif
}
