#include "sim/mechanisms/surroundings.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace overwinter {

namespace {

constexpr int most_iterations = 80, most_halvings = 12;
constexpr double stray = 1e-12;         // S at every net, so that one without a path has a voltage
constexpr double near_enough = 1e-9;    // V, the last step of Newton's method
constexpr double bracket = 0.25;        // V, in which a net's voltage is looked for
constexpr double highest = 30;          // V
constexpr double straight_line = 0.02;  // of i(v), how far off a source is still E behind R

/// Where a source gives nothing any more, looked for upwards from where it gives something; 0 where that is not found.
/// For currents that hardly change with the voltage, on which Newton's method is lost.
template <class Given>
double open_voltage(double low, Given&& given) {
  double high = low;
  while (given(high).value_or(0) > 0) {
    low = high;
    high += bracket;
    if (high > highest) return 0;
  }
  while (high - low > near_enough) {
    const double middle = (low + high) / 2;
    if (middle <= low || middle >= high) break;
    (given(middle).value_or(0) > 0 ? low : high) = middle;
  }
  return high;
}

}  // namespace

template <class Visit>
void Surroundings::each_part(const Evaluator& system, const std::vector<double>& z, Visit&& visit) const {
  std::vector<double> local, f, jacobian, state, kept;
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    if (p == without_) continue;
    const DiagramPart& part = diagram_.parts()[p];
    const std::size_t n = part.width();
    std::vector<int> place(part.nets);
    for (std::size_t i = part.pins(); i < n; ++i) place.push_back(static_cast<int>(part.unknown + i - part.pins()));
    local.resize(n);
    for (std::size_t i = 0; i < n; ++i) local[i] = place[i] < 0 ? 0.0 : z[static_cast<std::size_t>(place[i])];
    f.resize(n);
    jacobian.resize(n * n);
    View view = system.view(p);
    view.z = local.data();
    view.transient = false;
    if (p == supposed_.part) {
      state.assign(view.x, view.x + part.table->states.size());
      state[supposed_.state] = supposed_.value;
      view.x = state.data();
      kept.resize(static_cast<std::size_t>(part.table->holds));
      system.model(p).hold(view, kept.data());
      view.held = kept.data();
    }
    system.model(p).linearise(view, f.data(), jacobian.data());
    visit(place, f, jacobian);
  }
}

std::vector<double> Surroundings::solve(const Evaluator& system, const Held& held) const {
  const auto n = static_cast<Eigen::Index>(diagram_.unknowns());
  std::vector<double> z(diagram_.unknowns());
  for (std::size_t net = 0; net < diagram_.nets().size(); ++net) z[net] = system.net_voltage(net);
  for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
    const DiagramPart& part = diagram_.parts()[p];
    for (std::size_t i = part.pins(); i < part.width(); ++i) z[part.unknown + i - part.pins()] = system.view(p).z[i];
  }
  for (const auto& [net, volts] : held) z[static_cast<std::size_t>(net)] = volts;

  Eigen::VectorXd f(n);
  Eigen::MatrixXd jacobian(n, n);
  const auto assemble = [&](const std::vector<double>& at) {
    f.setZero();
    jacobian.setZero();
    each_part(system, at, [&](const std::vector<int>& place, const std::vector<double>& g, const auto& dg) {
      for (std::size_t i = 0; i < place.size(); ++i) {
        if (place[i] < 0) continue;
        f[place[i]] += g[i];
        for (std::size_t j = 0; j < place.size(); ++j) {
          if (place[j] >= 0) jacobian(place[i], place[j]) += dg[i * place.size() + j];
        }
      }
    });
    for (std::size_t net = 0; net < diagram_.nets().size(); ++net) {
      const auto i = static_cast<Eigen::Index>(net);
      f[i] += stray * at[net];
      jacobian(i, i) += stray;
    }
    for (const auto& [net, volts] : held) {
      f[net] = 0;
      jacobian.row(net).setZero();
      jacobian(net, net) = 1;
    }
  };

  assemble(z);
  for (int iteration = 0; iteration < most_iterations; ++iteration) {
    const Eigen::PartialPivLU<Eigen::MatrixXd> factors(jacobian);
    const Eigen::VectorXd step = factors.solve(f);
    const double size = step.lpNorm<Eigen::Infinity>();
    if (!std::isfinite(size)) return {};
    if (size < near_enough) return z;
    // Natural monotonicity test, as in the engine's own solver.
    double share = 1;
    std::vector<double> tried(z.size());
    for (int halving = 0;; ++halving, share /= 2) {
      if (halving > most_halvings) return {};
      for (std::size_t i = 0; i < z.size(); ++i) tried[i] = z[i] - share * step[static_cast<Eigen::Index>(i)];
      assemble(tried);
      if (factors.solve(f).lpNorm<Eigen::Infinity>() <= (1 - share / 4) * size) break;
    }
    z = tried;
  }
  return {};
}

double Surroundings::drawn_at(const Evaluator& system, int net, const std::vector<double>& z) const {
  double sum = 0;
  each_part(system, z, [&](const std::vector<int>& place, const std::vector<double>& f, const auto&) {
    for (std::size_t i = 0; i < place.size(); ++i) {
      if (place[i] == net) sum += f[i];
    }
  });
  return sum;
}

std::optional<double> Surroundings::drawn(const Evaluator& system, int net, const Held& held) const {
  const std::vector<double> z = solve(system, held);
  if (z.empty()) return std::nullopt;
  return drawn_at(system, net, z);
}

std::optional<double> Surroundings::drawn(const Evaluator& system, const Held& held) const {
  const std::vector<double> z = solve(system, held);
  if (z.empty()) return std::nullopt;
  double sum = 0;
  for (const auto& [net, at] : held) sum += drawn_at(system, net, z);
  return sum;
}

std::optional<double> Surroundings::volts(const Evaluator& system, int net) const {
  const std::vector<double> z = solve(system, {});
  if (z.empty()) return std::nullopt;
  return z[static_cast<std::size_t>(net)];
}

std::optional<Surroundings::Source> Surroundings::source(const Evaluator& system, int net, const Held& others) const {
  if (net < 0) return std::nullopt;
  const auto given = [&](double volts) -> std::optional<double> {
    Held held = others;
    held.emplace_back(net, volts);
    const std::optional<double> into = drawn(system, net, held);
    return into ? std::optional<double>(-*into) : std::nullopt;  // (2)
  };
  Source s;
  if (const std::vector<double> open = solve(system, others); !open.empty()) {
    s.emf = open[static_cast<std::size_t>(net)];  // (1)
  } else {
    s.emf = open_voltage(system.net_voltage(static_cast<std::size_t>(net)), given);
  }
  if (!(s.emf > 0)) return std::nullopt;
  const std::optional<double> half = given(s.emf / 2), upper = given(0.75 * s.emf);
  if (!half || !upper || !(*half > 0)) return std::nullopt;
  s.resistance = s.emf / 2 / *half;  // (3)
  s.largest = s.emf / 2 * *half;     // (4)
  s.straight = std::abs(*upper - *half / 2) <= straight_line * *half;
  if (s.straight) return s;
  constexpr int places = 32;
  for (int i = 1; i < places; ++i) {
    const double volts = s.emf * i / places;
    if (const std::optional<double> amperes = given(volts)) s.largest = std::max(s.largest, volts * *amperes);
  }
  return s;
}

}  // namespace overwinter
