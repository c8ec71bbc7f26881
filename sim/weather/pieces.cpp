#include "sim/weather/pieces.hpp"

#include <cmath>

#include "models/light/split.hpp"

namespace overwinter {

std::vector<Piece> cut(const MeasuredRow& row, Tick begin, Tick step, const Observer& observer) {
  std::vector<Piece> pieces;
  constexpr Tick longest = 3600 * ticks_per_second;
  const Tick count = (step + longest - 1) / longest;
  double outside = 0, lit = 0;  // means over the row
  for (Tick k = 0; k < count; ++k) {
    Piece piece{begin + step * k / count, begin + step * (k + 1) / count, {}, 0, 0, 0};
    piece.sun = interval_sun(piece.begin, piece.end, observer);
    const double share = static_cast<double>(piece.end - piece.begin) / static_cast<double>(step);
    outside += extraterrestrial_horizontal(piece.sun).si() * share;
    lit += piece.sun.lit_fraction * share;
    pieces.push_back(piece);
  }
  double diffuse = row.diffuse_horizontal;
  if (step == ticks_per_day && outside > 0 && std::isnan(diffuse) && std::isnan(row.beam_normal)) {
    diffuse =
        row.global_horizontal * erbs_daily_diffuse_fraction(row.global_horizontal / outside, Angle{pi * lit});  // (4)
  }
  for (Piece& piece : pieces) {
    const bool whole = count == 1;
    const double by_light = whole || !(outside > 0) ? 1 : extraterrestrial_horizontal(piece.sun).si() / outside;
    const double by_sun = whole || !(lit > 0) ? 1 : piece.sun.lit_fraction / lit;
    piece.diffuse = diffuse * by_light;               // (1)
    piece.beam = row.beam_normal * by_sun;            // (3)
    piece.global = row.global_horizontal * by_light;  // (2)
    if (!std::isnan(piece.global)) continue;
    const double height = piece.sun.lit_fraction > 0 ? cos(piece.sun.sun.zenith) : 0.0;
    piece.global = piece.beam * height + piece.diffuse;
  }
  return pieces;
}

}  // namespace overwinter
