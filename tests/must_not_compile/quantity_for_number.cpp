#include "models/units.hpp"

using namespace overwinter;

double bare(Voltage v) {
#ifdef SPOILED
  return v;
#else
  return v / units::volt;
#endif
}
