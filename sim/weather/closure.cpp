#include "sim/weather/closure.hpp"

#include <algorithm>
#include <cmath>

namespace overwinter {
namespace {

constexpr double least_light = 50;  // W/m2: Long & Shi 2008
constexpr Angle well_up = 10 * units::degree;
constexpr std::size_t least_rows = 24, most_rows = 3000;
constexpr double off = 10;  // W/m2, rms; independent instruments agree within some 5: common practice
constexpr double much_better = 1.0 / 3;
constexpr int quarters = 12 * 4;  // of an hour, to either side

struct Fit {
  double squares = 0;
  std::size_t rows = 0;
  double rms() const { return std::sqrt(squares / static_cast<double>(rows)); }
};

/// (2) with the sun of so many quarters of an hour before.
Fit fit(const std::vector<RadiationRow>& rows, const Observer& observer, int quarters_later) {
  const Tick shift = quarters_later * 900 * ticks_per_second;
  Fit sum;
  for (const RadiationRow& row : rows) {
    const Angle zenith = sun_position((row.begin + row.end) / 2 - shift, observer).zenith;
    const double sine = std::max(0.0, cos(zenith));
    if (sine > 0 && zenith > Angle{pi / 2} - well_up) continue;
    const double e = row.global - (row.diffuse + row.direct * sine);  // (1)
    sum.squares += e * e;
    ++sum.rows;
  }
  return sum;
}

/// Rows with enough light, at most most_rows of them, evenly.
std::vector<RadiationRow> telling(const std::vector<RadiationRow>& rows) {
  std::vector<RadiationRow> bright;
  for (const RadiationRow& row : rows) {
    if (row.global > least_light) bright.push_back(row);
  }
  const std::size_t stride = bright.size() / most_rows + 1;
  std::vector<RadiationRow> some;
  for (std::size_t i = 0; i < bright.size(); i += stride) some.push_back(bright[i]);
  return some;
}

}  // namespace

std::optional<double> closure_rms(const std::vector<RadiationRow>& rows, const Observer& observer) {
  const Fit stated = fit(telling(rows), observer, 0);
  return stated.rows < least_rows ? std::nullopt : std::optional<double>(stated.rms());
}

std::optional<Closure> better_clock(const std::vector<RadiationRow>& rows, const Observer& observer) {
  const std::optional<double> stated = closure_rms(rows, observer);
  if (!stated || *stated <= off) return std::nullopt;
  const std::vector<RadiationRow> some = telling(rows);
  Closure found{*stated, *stated, {}};
  const auto look = [&](int shift) {
    const Fit there = fit(some, observer, shift);
    if (there.rows < some.size() / 4 || there.rows < least_rows || there.rms() >= found.better_rms) return;
    found.better_rms = there.rms();
    found.later = shift * 0.25 * units::hour;
  };
  for (int shift = -quarters; shift < quarters; shift += 4) look(shift);
  const int coarse = static_cast<int>(std::lround(found.later / (0.25 * units::hour)));
  for (int shift = coarse - 3; shift <= coarse + 3; ++shift) {
    look((shift + 3 * quarters) % (2 * quarters) - quarters);  // a turn of the earth is another day
  }
  return found.better_rms < much_better * found.rms ? std::optional<Closure>(found) : std::nullopt;
}

}  // namespace overwinter
