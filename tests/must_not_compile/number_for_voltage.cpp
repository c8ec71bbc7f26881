#include "models/units.hpp"

using namespace overwinter;

Power heat(Voltage v, Resistance r) { return v * v / r; }

Power of_a_number(double number, Resistance r) {
#ifdef SPOILED
  return heat(number, r);
#else
  return heat(number * units::volt, r);
#endif
}
