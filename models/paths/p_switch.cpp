#include "models/paths/p_switch.hpp"

#include <algorithm>
#include <cmath>

namespace overwinter {

namespace {

constexpr double reverse_share = 0.15;       // Crss of Ciss where it is not given: 0.1 to 0.2, common practice
constexpr double least_capacitance = 1e-12;  // F

constexpr double knee = 1.5 * 0.025692579;  // V, w of (3): n k T / q at 25 degC, n = 1.5 for power MOSFETs: from memory

constexpr double nothing = -700;  // ln S: no channel at all, and still a number

/// (3) as a ratio: g(low) / g(high) for a given U0.
double ratio(double low, double high, double u0) { return softplus((low - u0) / knee) / softplus((high - u0) / knee); }

/// U0 of (4) at which ratio(low, high) is `wanted`; none where no U0 does that. The ratio falls as U0 rises.
std::optional<double> strong_threshold(double low, double high, double wanted) {
  double left = low - 100 * knee, right = high + 40 * knee;
  if (!(ratio(low, high, left) > wanted && wanted > ratio(low, high, right))) return std::nullopt;
  for (int i = 0; i < 100; ++i) {
    const double middle = 0.5 * (left + right);
    (ratio(low, high, middle) > wanted ? left : right) = middle;
  }
  return left;
}

/// ln g over the gate drive, (2) and (3); none where (4) has no solution.
std::optional<Curve> channel_curve(const PSwitchParameters& p) {
  if (p.stuck != StuckSwitch::free) {
    const double ln_g = p.stuck == StuckSwitch::on ? -std::log(p.on_resistance.y().back()) : nothing;
    return Curve({0.0, 1.0}, {ln_g, ln_g}, Interpolation::linear, Outside::hold);
  }
  const std::vector<double>& drive = p.on_resistance.x();
  const std::vector<double>& ohms = p.on_resistance.y();
  const double threshold = p.threshold.si(), full = drive.front();
  const double share = ohms.front() * p.threshold_current.si() / threshold;
  const std::optional<double> u0 = strong_threshold(threshold, full, share);  // (4)
  if (!u0) return std::nullopt;
  std::vector<double> u, ln_g;
  for (int i = -8; threshold + (i + 0.5) * knee < full; ++i) {
    u.push_back(threshold + i * knee);
    ln_g.push_back(std::log(ratio(u.back(), full, *u0) / ohms.front()));  // (3)
  }
  for (std::size_t i = 0; i < drive.size(); ++i) {
    u.push_back(drive[i]);
    ln_g.push_back(-std::log(ohms[i]));  // (2)
  }
  // Below, the end slope goes on: weak inversion. Above, two equal points let it go on level.
  u.push_back(u.back() + knee);
  ln_g.push_back(ln_g.back());
  return Curve(std::move(u), std::move(ln_g), Interpolation::monotone, Outside::extend);
}

}  // namespace

const ModelTable& PSwitch::describe() {
  static const ModelTable table = [] {
    using P = PSwitchParameters;
    using M = PSwitch;
    const std::string enz = "Enz, Krummenacher & Vittoz 1995, Analog Integr. Circuits Signal Process. 8, 83-114";
    const std::string limit = ", a usual datasheet limit: common practice";
    TableBuilder<M, P> t("p-switch", "A P-channel MOSFET as a high-side switch.");
    t.equation("1", "I = (g(U) + G) V - D(-V), U = Vsource - Vgate, V = Vsource - Vdrain",
               "channel, leakage, body diode; D: class assumption, rounded knee");
    t.equation("2", "ln g through the points of on_resistance",
               "monotone cubic: Fritsch & Carlson 1980, SIAM J. Numer. Anal. 17(2), 238-246");
    t.equation("3", "below them g = b w ln(1 + exp((U - U0) / w))", enz + "; simplified, with the same limits");
    t.equation("4", "b, U0 from g(U1) = 1/R1 and g(Uth) = Ith / Uth", "definition of the threshold, datasheet");
    t.equation("5", "G = Ileak / Vleak", "datasheet");
    t.equation("6", "Igate = U (1/Rpull + Igl / Vgl)", "Ohm's law");
    t.equation("7", "in a transient: Is = (U - x)/Rg, Cgs dx/dt = Is, likewise drain to gate with Cgd",
               "definitions of Ciss = Cgs + Cgd and Crss = Cgd");

    t.curve("on_resistance", &P::on_resistance, {"gate_drive", unit_of<Voltage>("V"), Limit{0, true}, std::nullopt},
            {"resistance", unit_of<Resistance>("mohm"), std::nullopt, std::nullopt}, Interpolation::monotone,
            Outside::hold)
        .required()
        .values_above(0)
        .meaning(
            "source to drain over gate drive (source minus gate), interpolated as logarithm; its lowest drive is the "
            "full "
            "drive, below it only threshold counts");
    t.scalar("threshold", &P::threshold, "V")
        .required()
        .above(0)
        .at_most(10)
        .meaning(
            "gate drive at which threshold_current flows with gate and drain tied: typical; the lower limit tries the "
            "off state, the upper "
            "one the on state");
    t.scalar("threshold_current", &P::threshold_current, "uA")
        .above(0)
        .at_most(0.1)
        .meaning("current at which threshold is stated")
        .source("250 uA: common practice");
    t.scalar("gate_pull_up", &P::gate_pull_up, "kohm")
        .at_least(10)
        .at_most(1e9)
        .meaning("resistor from gate to source that keeps the switch off; without it only leakage pulls the gate up");
    t.scalar("gate_capacitance", &P::gate_capacitance, "nF")
        .at_least(0)
        .at_most(1e-6)
        .meaning("Ciss, input capacitance; matters in transients only")
        .source("0.5 to 2 nF, small power transistors: common practice");
    t.scalar("reverse_capacitance", &P::reverse_capacitance, "pF")
        .at_least(0)
        .at_most(1e-6)
        .meaning(
            "Crss, reverse transfer capacitance, drain to gate; matters in transients only; 15 % of gate_capacitance "
            "if left out");
    t.scalar("gate_resistance", &P::gate_resistance, "ohm")
        .at_least(0.1)
        .at_most(1e6)
        .meaning("Rg, inside the gate; matters in transients only")
        .source("1 to 10 ohm: common practice");
    t.scalar("gate_leakage", &P::gate_leakage, "nA")
        .above(0)
        .at_most(1e-4)
        .meaning("between gate and source at gate_leakage_voltage")
        .source("100 nA" + limit);
    t.scalar("gate_leakage_voltage", &P::gate_leakage_voltage, "V")
        .above(0)
        .at_most(100)
        .meaning("voltage at which gate_leakage is stated")
        .source("8 to 20 V, the greatest gate drive: common practice");
    t.scalar("drain_leakage", &P::drain_leakage, "uA")
        .at_least(0)
        .at_most(1e-3)
        .meaning("source to drain without gate drive, at drain_leakage_voltage")
        .source("1 uA" + limit);
    t.scalar("drain_leakage_voltage", &P::drain_leakage_voltage, "V")
        .above(0)
        .at_most(1000)
        .meaning("voltage at which drain_leakage is stated")
        .source("20 V: common practice");
    t.scalar("diode_voltage", &P::diode_voltage, "V")
        .at_least(0.2)
        .at_most(1.5)
        .meaning("body diode: where its straight part, continued, meets zero current")
        .source("0.7 to 0.8 V for silicon: common practice");
    t.scalar("diode_resistance", &P::diode_resistance, "mohm")
        .above(0)
        .at_most(10)
        .meaning("body diode: slope of its straight part")
        .source("class assumption");

    t.pin("source", "from the supply");
    t.pin("drain", "to the load");
    t.pin("gate", "low against source: on", PinRole::gate);
    t.fast_state("source_gate", unit_of<Voltage>("V"), 50.0, "on the capacitance from source to gate, in a transient");
    t.fast_state("drain_gate", unit_of<Voltage>("V"), 50.0, "on the capacitance from drain to gate, in a transient");

    t.output("conducting", unit_of<double>("1"), "off below half the threshold, on from the full drive",
             [](const M& m, const View& v) { return static_cast<double>(m.conduction(v)); },
             {"off", "half driven", "on"});
    t.output("voltage_drop", unit_of<Voltage>("mV"), "source minus drain",
             [](const M&, const View& v) { return across(v); });
    t.output("current", unit_of<Current>("mA"), "from source to drain",
             [](const M& m, const View& v) { return m.channel(drive(v)) * across(v) - m.diode_(-across(v)); });

    t.flow("channel", FlowKind::lost, "drop times current through the channel, leakage included");
    t.flow("body_diode", FlowKind::lost, "drain above source times diode current");
    t.flow("gate", FlowKind::lost, "gate drive times current through pull-up and gate leakage; charging the gate");

    t.event("switched on", "the gate drive reached the lowest drive of on_resistance",
            [](const M& m, const View& v) { return drive(v) - m.full_drive(); })
        .routine()
        .load_step();
    t.event("half driven",
            "the gate drive stays between half the threshold and full drive, and 100 mV or more drop over the switch",
            [](const M& m, const View& v) { return m.half_drive(v); });
    t.fault("stuck-on", "it conducts whatever its gate says",
            [](P& p, const FaultValues&) { p.stuck = StuckSwitch::on; });
    t.fault("stuck-off", "it only leaks, whatever its gate says",
            [](P& p, const FaultValues&) { p.stuck = StuckSwitch::off; });
    return t.done();
  }();
  return table;
}

PSwitch::PSwitch(const PSwitchParameters& p, Curve channel)
    : p_(p),
      channel_(std::move(channel)),
      diode_(p.diode_voltage, p.diode_resistance),
      off_conductance_((p.drain_leakage / p.drain_leakage_voltage).si()),  // (5)
      gate_conductance_((p.gate_leakage / p.gate_leakage_voltage).si() +
                        (p.gate_pull_up ? 1.0 / p.gate_pull_up->si() : 0.0)),  // (6)
      series_conductance_(1 / p.gate_resistance.si()) {
  const double input = p.gate_capacitance.si();
  const double reverse = p.reverse_capacitance ? p.reverse_capacitance->si() : reverse_share * input;
  drain_capacitance_ = std::max(reverse, least_capacitance);
  source_capacitance_ = std::max(input - reverse, least_capacitance);
}

std::shared_ptr<const Model> PSwitch::build(const PSwitchParameters& p, std::vector<Finding>& findings) {
  const std::vector<double>& ohms = p.on_resistance.y();
  if (!std::is_sorted(ohms.rbegin(), ohms.rend())) {
    findings.push_back(
        {"on_resistance", "the resistance rises with the gate drive", "let it fall, or stay, as the gate drive grows"});
  }
  if (p.reverse_capacitance && *p.reverse_capacitance > p.gate_capacitance) {
    findings.push_back({"reverse_capacitance", "it is larger than gate_capacitance, of which it is a part",
                        "take both from the same datasheet, at the same voltage"});
  }
  if (p.on_resistance.x().front() <= p.threshold.si()) {
    findings.push_back({"threshold", "it is not below the lowest gate drive of on_resistance",
                        "take both from the same datasheet: on-resistance is stated well above the threshold"});
  }
  if (!findings.empty()) return nullptr;
  std::optional<Curve> channel = channel_curve(p);
  if (!channel) {
    findings.push_back({"threshold",
                        "no channel has both this threshold and the resistance at the lowest gate drive of "
                        "on_resistance: it would have to turn on more steeply than silicon does, or hardly at all",
                        "leave 0.5 V and more between them, or check threshold_current"});
    return nullptr;
  }
  return std::make_shared<PSwitch>(p, std::move(*channel));
}

void PSwitch::start(const Ambient&, Writable& w) const { w.x[source_gate] = w.x[drain_gate] = 0; }

void PSwitch::enter_transient(const View& view, Writable& w, double*) const {
  w.x[source_gate] = pin_drive(view);
  w.x[drain_gate] = view.z[1] - view.z[2];
}

void PSwitch::rates(const View& view, double* dxdt) const {
  dxdt[source_gate] = dxdt[drain_gate] = 0;
  if (!view.transient) return;
  dxdt[source_gate] = (pin_drive(view) - view.x[source_gate]) * series_conductance_ / source_capacitance_;     // (7)
  dxdt[drain_gate] = (view.z[1] - view.z[2] - view.x[drain_gate]) * series_conductance_ / drain_capacitance_;  // (7)
}

double PSwitch::half_drive(const View& view) const {
  if (view.transient) return -1;  // every switch passes through it
  if (p_.stuck != StuckSwitch::free) return -1;
  const double u = drive(view);
  return std::min({u - off_drive(), full_drive() - u, std::abs(across(view)) - notable_drop});
}

PSwitch::Conduction PSwitch::conduction(const View& view) const {
  if (p_.stuck != StuckSwitch::free) return p_.stuck == StuckSwitch::on ? on : off;
  const double u = drive(view);
  return u >= full_drive() ? on : u > off_drive() ? half_driven : off;
}

void PSwitch::flows(const View& view, double* flow) const {
  const double v = across(view), u = pin_drive(view);
  flow[0] = channel(drive(view)) * v * v;
  flow[1] = -v * diode_(-v);
  flow[2] = u * u * gate_conductance_;
  if (!view.transient) return;
  const double drain = view.z[1] - view.z[2];
  flow[2] += (u * (u - view.x[source_gate]) + drain * (drain - view.x[drain_gate])) * series_conductance_;
}

}  // namespace overwinter
