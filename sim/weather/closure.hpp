// Whether the three radiation columns of a record close, and with which clock they do.
//
// G global, D diffuse (both horizontal), B direct on a plane facing the sun, h the sun's height in the middle of a
// row's interval, n rows:
//   (1)  e = G - (D + B sin h)                   G = D + B cos z, z zenith: definition of the three; Duffie & Beckman
//                                                2020, sec. 2.9
//   (2)  rms = sqrt(sum e^2 / n)
//
// (1) needs the sun of the row's own time: rows on another clock than stated, or a place at another longitude, leave
// morning and afternoon apart. The best clock is the one of least rms, by quarters of an hour. Good stations close (1)
// within 8 % below 75 deg of zenith where D + B cos z is above 50 W/m2 (Long & Shi 2008, Open Atmos. Sci. J. 2, 23-37),
// so that rows above 50 W/m2 are looked at, with the sun more than 10 deg up, which no sunrise and no sunset cuts. A
// row with direct light while the sun would be down speaks against a clock as strongly as it can: sin h is then 0.
#pragma once

#include <optional>
#include <vector>

#include "models/light/sun.hpp"

namespace overwinter {

/// A row with all three columns, W/m2.
struct RadiationRow {
  Tick begin, end;
  double global, direct, diffuse;
};

/// How far a record's columns are from closing on its own clock, and on a better one.
struct Closure {
  double rms = 0;         ///< W/m2, on the stated clock
  double better_rms = 0;  ///< W/m2
  Duration later{};       ///< by how much the sun must be taken earlier: the clock's offset from UTC is so much larger
};

/// (2) on the record's own clock, W/m2; none with fewer than 24 rows that can tell.
std::optional<double> closure_rms(const std::vector<RadiationRow>&, const Observer&);

/// Found where the rows are more than 10 W/m2 off and another clock leaves less than a third of that.
std::optional<Closure> better_clock(const std::vector<RadiationRow>&, const Observer&);

}  // namespace overwinter
