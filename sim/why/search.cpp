#include "sim/why/search.hpp"

#include <cmath>
#include <map>

namespace overwinter {

namespace {

constexpr double enough = 0.95;     // of a change
constexpr double second_try = 0.3;  // of the way, where the bound does not help
constexpr double fourth = 0.25;
constexpr int valid_halvings = 12;

/// To three significant digits.
double rounded(double change) {
  if (change == 0) return 0;
  const double unit = std::pow(10.0, std::floor(std::log10(std::abs(change))) - 2);
  return std::round(change / unit) * unit;
}

}  // namespace

std::optional<Smallest> smallest_change(double now, double bound, double least, double step,
                                        const std::function<bool(double)>& valid,
                                        const std::function<bool(double)>& helps) {
  Smallest s;
  s.furthest = now;
  std::map<double, bool> known;
  const auto value = [&](double d) {
    const double to = now + rounded(d * (bound - now));
    return step > 0 ? std::round(to / step) * step : to;
  };
  const auto tried = [&](double d) {
    const double v = value(d);
    if (v == now) return false;
    const auto at = known.find(v);
    if (at != known.end()) return at->second;
    ++s.tries;
    if (std::abs(v - now) > std::abs(s.furthest - now)) s.furthest = v;
    return known[v] = helps(v);
  };

  double reach = 1;
  if (!valid(value(reach))) {
    double good = 0;
    for (int i = 0; i < valid_halvings; ++i) {
      const double middle = (good + reach) / 2;
      (valid(value(middle)) ? good : reach) = middle;
    }
    reach = good;
  }
  const double floor = std::max(least * std::abs(now), step) / std::abs(bound - now);
  if (reach < floor) return std::nullopt;

  double high = reach, low = 0;
  if (!tried(high)) {
    high = std::max(floor, second_try * high);
    if (!tried(high)) return s;
  }
  for (;;) {
    while (low == 0 && high > floor) {
      const double next = std::max(floor, high * fourth);
      (tried(next) ? high : low) = next;
    }
    while (low > 0 && enough * high > low && high > floor) {
      const bool near = high * enough * enough <= low;
      const double middle = near ? enough * high : std::sqrt(low * high);
      (tried(middle) ? high : low) = middle;
    }
    const double less = std::max(floor, enough * high);
    if (high <= floor || value(less) == value(high)) break;
    if (!tried(less)) {
      s.short_of = value(less);
      break;
    }
    high = less;
    low = 0;
  }
  s.value = value(high);
  return s;
}

}  // namespace overwinter
