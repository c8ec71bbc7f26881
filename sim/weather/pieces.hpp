// Rows of a measured record, cut so that one sun can stand for each piece.
//
// G global, D diffuse, B direct, each the row's mean; G0 outside the atmosphere on the horizontal, s the part of the
// time that the sun is up; i of a piece, mean over the row.
//   (1)  D_i = D G0_i / mean G0                  Liu & Jordan 1960; Duffie & Beckman 2020, (2.13.4) is its closed form
//   (2)  G_i = G G0_i / mean G0                  as (1): every piece has the row's clearness index
//   (3)  B_i = B s_i / mean s                    a clear sky's beam is nearly constant while the sun is up
//   (4)  sunset hour angle = 180 deg times mean s of a day
#pragma once

#include <vector>

#include "models/light/sun.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

/// A row of a measured record, or a part of it of at most an hour.
struct Piece {
  Tick begin, end;
  IntervalSun sun;
  double global, beam, diffuse;  ///< W/m2; beam and diffuse not a number where they are to be split from global
};

/// The equal pieces of the row that begins at `begin`: one where the step is an hour or less. The means of the row's
/// light are kept, (1) to (3); without sun in it, light is spread evenly. Global light that the row does not have is
/// worked out. Where a row of a day has global light only, its diffuse part is that of daily sums, with (4).
std::vector<Piece> cut(const MeasuredRow&, Tick begin, Tick step, const Observer&);

}  // namespace overwinter
