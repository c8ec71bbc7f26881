#include "models/sources/single_diode.hpp"

#include <algorithm>
#include <boost/math/tools/minima.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>
#include <cstdio>
#include <functional>
#include <stdexcept>
#include <utility>

#include "models/smooth.hpp"
#include "models/thermal.hpp"

namespace overwinter {

namespace {

constexpr Energy band_gap{1.121 * 1.602176634e-19};
constexpr PerKelvin band_gap_coefficient{-0.0002677};
constexpr Irradiance shunt_floor{10.0};

double root(const std::function<double(double)>& f, double low, double high) {
  std::uintmax_t iterations = 200;
  const auto tolerance = boost::math::tools::eps_tolerance<double>(48);
  const auto bracket = boost::math::tools::toms748_solve(f, low, high, tolerance, iterations);
  return 0.5 * (bracket.first + bracket.second);
}

/// I0, 1/Rsh and the stationarity of power at the maximum power point, for given a and Rs.
struct Trial {
  double saturation, shunt, light, slope_fault;
};

Trial trial(const PanelDatasheet& d, double a, double rs) {
  const double isc = d.short_circuit_current.si(), voc = d.open_circuit_voltage.si();
  const double imp = d.maximum_power_current.si(), vmp = d.maximum_power_voltage.si();
  const double e_sc = std::exp(isc * rs / a), e_oc = std::exp(voc / a), e_mp = std::exp((vmp + imp * rs) / a);
  // (1) at open circuit, subtracted from (1) at short circuit and at maximum power: linear in I0 and 1/Rsh.
  const double a11 = e_oc - e_sc, a12 = voc - isc * rs, a21 = e_oc - e_mp, a22 = voc - vmp - imp * rs;
  const double det = a11 * a22 - a12 * a21;
  Trial t;
  t.saturation = (isc * a22 - imp * a12) / det;
  t.shunt = (a11 * imp - a21 * isc) / det;
  t.light = t.saturation * (e_oc - 1) + t.shunt * voc;
  const double g = t.saturation / a * e_mp + t.shunt;
  t.slope_fault = imp - g * (vmp - imp * rs);  // d(VI)/dV = 0
  return t;
}

/// The curve through the three points for a given a, if there is one with Rs, Rsh, I0 > 0.
std::optional<SingleDiode> through_points(const PanelDatasheet& d, double a) {
  const double limit = ((d.open_circuit_voltage - d.maximum_power_voltage) / d.maximum_power_current).si();
  const auto fault = [&](double rs) { return trial(d, a, rs).slope_fault; };
  constexpr int pieces = 64;
  double low = 0, at_low = fault(low);
  for (int i = 1; i < pieces; ++i) {
    const double high = limit * i / pieces, at_high = fault(high);
    if (at_low * at_high <= 0) {
      const double rs = root(fault, low, high);
      const Trial t = trial(d, a, rs);
      if (t.saturation > 0 && t.shunt >= 0) {
        return SingleDiode{Current{t.light}, Current{t.saturation}, Voltage{a}, Resistance{rs}, Conductance{t.shunt}};
      }
    }
    low = high;
    at_low = at_high;
  }
  return std::nullopt;
}

}  // namespace

Current SingleDiode::at_junction(Voltage junction) const {
  return light - saturation * (bounded_exp(junction / slope) - 1.0) - shunt * junction;  // (1)
}

Voltage SingleDiode::open_circuit_voltage() const {
  if (!(light.si() > 0)) return Voltage{0.0};
  const double upper = slope.si() * std::log1p((light / saturation));
  return Voltage{root([this](double v) { return at_junction(Voltage{v}).si(); }, 0.0, upper * (1 + 1e-12))};
}

Current SingleDiode::short_circuit_current() const {
  if (!(light.si() > 0)) return Current{0.0};
  const auto voltage = [this](double j) { return j - series.si() * at_junction(Voltage{j}).si(); };
  if (series.si() == 0) return at_junction(Voltage{0.0});
  return at_junction(Voltage{root(voltage, 0.0, open_circuit_voltage().si())});
}

SingleDiode::Point SingleDiode::maximum_power() const {
  if (!(light.si() > 0)) return {};
  const auto point = [this](double junction) {
    const Current i = at_junction(Voltage{junction});
    const Voltage v = Voltage{junction} - series * i;
    return Point{v, i, v * i};
  };
  // Over the share of the open-circuit voltage: the search resolves its argument no finer than 1e-9 or so.
  const double voc = open_circuit_voltage().si();
  const auto loss = [&](double share) { return -point(share * voc).power.si(); };
  return point(boost::math::tools::brent_find_minima(loss, 0.0, 1.0, 40).first * voc);
}

SingleDiode five_parameters(const PanelDatasheet& d, std::string& note) {
  const double thermal = thermal_voltage(reference_temperature).si() * d.cells;
  const Temperature warm = reference_temperature + Temperature{10.0};
  const double wanted = d.open_circuit_voltage.si() * (1 + (d.voltage_coefficient * Temperature{10.0}));
  const auto excess = [&](const SingleDiode& s) {
    return translate(s, d, reference_irradiance, warm).open_circuit_voltage().si() - wanted;
  };
  std::optional<SingleDiode> before, nearest;
  double nearest_excess = 0, before_excess = 0;
  constexpr double lowest_ideality = 0.5, highest_ideality = 2.5, stride = 0.02;
  for (double n = lowest_ideality; n <= highest_ideality; n += stride) {
    const std::optional<SingleDiode> here = through_points(d, n * thermal);
    if (!here) {
      before.reset();
      continue;
    }
    const double here_excess = excess(*here);
    if (before && before_excess * here_excess <= 0) {
      const auto fault = [&](double a) {
        const std::optional<SingleDiode> s = through_points(d, a);
        return s ? excess(*s) : before_excess;
      };
      return *through_points(d, root(fault, before->slope.si(), here->slope.si()));
    }
    if (!nearest || std::abs(here_excess) < std::abs(nearest_excess)) {
      nearest = here;
      nearest_excess = here_excess;
    }
    before = here;
    before_excess = here_excess;
  }
  if (!nearest) throw std::domain_error("no single-diode curve passes through the three points");
  const double reached = ((nearest_excess + wanted) / d.open_circuit_voltage.si() - 1) / 10;
  char text[160];
  std::snprintf(text, sizeof text,
                "the voltage coefficient is %.3f %%/K, the nearest that fits the other values (%.3f asked)",
                reached * 100, d.voltage_coefficient.si() * 100);
  note = text;
  return *nearest;
}

SingleDiode translate(const SingleDiode& reference, const PanelDatasheet& d, Irradiance g, Temperature t) {
  const Temperature dt = t - reference_temperature;
  const Energy gap = band_gap * (1 + band_gap_coefficient * dt);
  const double ratio = t / reference_temperature;
  SingleDiode s;
  const Current shift = d.short_circuit_current * (d.current_coefficient * dt);
  s.light = (g / reference_irradiance) * (reference.light + shift);  // (3)
  s.saturation =
      reference.saturation * (ratio * ratio * ratio *
                              std::exp((band_gap / boltzmann / reference_temperature) - (gap / boltzmann / t)));  // (4)
  s.slope = reference.slope * ratio;                                                                              // (2)
  s.series = reference.series;
  s.shunt = reference.shunt * ((g < shunt_floor ? shunt_floor : g) / reference_irradiance);  // (5)
  return s;
}

}  // namespace overwinter
