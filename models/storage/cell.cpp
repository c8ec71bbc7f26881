#include "models/storage/cell.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

namespace overwinter {

namespace {
const Temperature hottest = celsius(80);  // of (4) and (6)
constexpr double remainder = 0.02;        // r of (11)

// Limits, see the header.
constexpr double empty_tolerance = 1e-3, overcharged = 1.02;  // of the capacity
constexpr Voltage charge_limit_tolerance{0.05};
constexpr double cold_tolerance = 0.5;  // K
constexpr Rate least_charging{1e-3 / 3600};
const Temperature burns = celsius(90);
}  // namespace

const ModelTable& Cell::describe() {
  static const ModelTable table = [] {
    using P = CellParameters;
    TableBuilder<Cell, P> t("cell",
                            "One lithium cell: open-circuit voltage, series resistance, two RC pairs, temperature.");
    const std::string chen = "Chen & Rincon-Mora 2006, IEEE Trans. Energy Convers. 21(2), 504-511";
    t.equation("1", "V = U(s, T) + v1 + v2 + R0 I, s = q / Q", chen);
    t.equation("2", "dvk/dt = (Rk I - vk) / tau_k", chen + "; time constants held while resistances vary");
    t.equation("3", "dq/dt = I - w Isd", "charge is conserved");
    t.equation("4", "Rk(s, T) = Rk(su) exp(Ek/k (1/T - 1/T25))", "Arrhenius");
    t.equation("5", "su = max(0, (s - f)/(1 - f)), f(T) = 1 - usable(T)",
               "class assumption: cold raises the resistance of the last charge, it destroys none");
    t.equation("6", "Isd = Q ksd 2^((T - 25 degC)/10 K)", "common practice");
    t.equation("7", "Cth dT/dt = R0 I^2 + v1^2/R1 + v2^2/R2 + w c T I - (T - Tair)/Rth",
               "energy balance of a lumped body; reversible heat: Bernardi, Pawlikowski & Newman 1985, J. Electrochem. "
               "Soc. 132(1), 5-12, from memory");
    t.equation("8", "E = Q integral(U - w c T ds) + sum 1/2 Ck vk^2, Ck = tau_k/Rk", "stored energy in closed form");
    t.equation("9", "aged: q = s Q', the change of E is parameter drift", "class assumption: the charge state stays");
    t.equation("10", "U(s, T) = w (OCV(s) + c (T - T25))", "definition of the temperature coefficient c");
    t.equation("11", "w = 1; below empty p^2 (a - b p), p = max(0, 1 + s/2 %), with the curve's slope at s = 0",
               "class assumption: 2 % of the charge is left below empty, and a dead cell gives nothing");

    const Axis charge_axis{"charge", unit_of<double>("%"), Limit{0, false}, Limit{1, false}};
    const Axis ohms{"resistance", unit_of<Resistance>("mohm"), std::nullopt, std::nullopt};
    t.scalar("capacity", &P::capacity, "mAh")
        .required()
        .above(0)
        .at_most(3.6e6)
        .meaning("Q: rated capacity, discharged at the five-hour rate at 20 degC")
        .source("definition: IEC 61960-3");
    t.scalar("charge_limit", &P::charge_limit, "V")
        .above(0)
        .at_most(5)
        .meaning("highest voltage that the datasheet lets a charger hold it at")
        .source("4.2 V for NMC, 3.65 V for LFP: common practice");
    t.scalar("charge_temperature_minimum", &P::charge_temperature_minimum, "degC")
        .at_least(223.15)
        .at_most(323.15)
        .meaning("lowest temperature at which the datasheet lets it be charged")
        .source("0 degC: common practice, also the JEITA guideline's lower end; from memory");
    t.scalar("charge", &P::charge, "%").at_least(0).at_most(1).meaning("state of charge at the start of the span");
    t.curve("open_circuit_voltage", &P::open_circuit_voltage, charge_axis,
            {"voltage", unit_of<Voltage>("V"), std::nullopt, std::nullopt}, Interpolation::monotone, Outside::extend)
        .required()
        .values_above(0)
        .meaning("OCV at rest over the state of charge, at 25 degC");
    t.curve("temperature_coefficient", &P::temperature_coefficient, charge_axis,
            {"voltage", unit_of<VoltagePerKelvin>("mV/K"), Limit{-2e-3, false}, Limit{2e-3, false}},
            Interpolation::monotone, Outside::hold)
        .meaning("c: how the OCV moves with temperature, over the state of charge");
    t.curve("series_resistance", &P::series_resistance, charge_axis, ohms, Interpolation::monotone, Outside::hold)
        .required()
        .values_above(0)
        .meaning("R0 at 25 degC over the state of charge: the instant drop of a current step");
    t.curve("pair_1_resistance", &P::pair_1_resistance, charge_axis, ohms, Interpolation::monotone, Outside::hold)
        .required()
        .values_above(0)
        .meaning("R1 at 25 degC over the state of charge: the drop that builds up within a minute");
    t.curve("pair_2_resistance", &P::pair_2_resistance, charge_axis, ohms, Interpolation::monotone, Outside::hold)
        .required()
        .values_above(0)
        .meaning("R2 at 25 degC over the state of charge: the drop that builds up within minutes");
    t.scalar("pair_1_time", &P::pair_1_time, "s").required().at_least(0.1).at_most(1e5).meaning("tau_1");
    t.scalar("pair_2_time", &P::pair_2_time, "s").required().at_least(0.1).at_most(1e6).meaning("tau_2");
    t.scalar("activation_energy", &P::activation_energy, "eV")
        .at_least(0)
        .at_most(elementary_charge.si())
        .meaning("Ek of each resistance that has none of its own below")
        .source("0.207 eV = 20 kJ/mol, twice the resistance at 0 degC: common practice");
    for (const auto& [key, member, meaning] :
         {std::tuple{"series_activation_energy", &P::series_activation_energy, "Ek of R0"},
          {"pair_1_activation_energy", &P::pair_1_activation_energy, "Ek of R1"},
          {"pair_2_activation_energy", &P::pair_2_activation_energy, "Ek of R2"}}) {
      t.scalar(key, member, "eV").at_least(0).at_most(elementary_charge.si()).meaning(meaning);
    }
    t.curve("usable_capacity", &P::usable_capacity,
            {"temperature", unit_of<Temperature>("degC"), std::nullopt, std::nullopt},
            {"share", unit_of<double>("%"), std::nullopt, std::nullopt}, Interpolation::monotone, Outside::hold)
        .required()
        .values_above(0.05)
        .values_at_most(1)
        .meaning("share of the rated capacity that a moderate current can reach, over cell temperature");
    t.scalar("self_discharge", &P::self_discharge, "%/month")
        .at_least(0)
        .at_most(0.2 / 2629743.83)
        .meaning("ksd at 25 degC")
        .source("2 to 3 % per month: common practice");
    t.scalar("heat_capacity", &P::heat_capacity, "J/K")
        .above(0)
        .meaning("of the cell")
        .source("45 J/K: 45 g at 1 J/(g K), common practice");
    t.scalar("thermal_resistance", &P::thermal_resistance, "K/W")
        .above(0)
        .meaning("cell to air, enclosure included")
        .source("class assumption");

    t.pin("plus", "positive terminal");
    t.pin("minus", "negative terminal");
    t.state("charge", unit_of<Charge>("mAh"), 3600.0, "charge above empty");
    t.state("pair_1", unit_of<Voltage>("mV"), 0.1, "voltage of the fast RC pair");
    t.state("pair_2", unit_of<Voltage>("mV"), 0.1, "voltage of the slow RC pair");
    t.state("temperature", unit_of<Temperature>("degC"), 10.0, "cell temperature");
    t.line_output("temperature", LineKind::temperature, "cell temperature",
                  [](const Cell&, const View& v) { return v.x[temperature]; });

    t.output("state_of_charge", unit_of<double>("%"), "charge over rated capacity",
             [](const Cell& m, const View& v) { return m.state_of_charge(v); });
    t.output("voltage", unit_of<Voltage>("V"), "between the terminals",
             [](const Cell&, const View& v) { return v.z[0] - v.z[1]; });
    t.output("current", unit_of<Current>("mA"), "positive when charging",
             [](const Cell& m, const View& v) { return m.current(v).si(); });
    t.output("temperature", unit_of<Temperature>("degC"), "cell temperature",
             [](const Cell&, const View& v) { return v.x[temperature]; });
    t.output("series_resistance", unit_of<Resistance>("mohm"), "R0 at this charge and temperature",
             [](const Cell&, const View& v) { return v.held[held_series_resistance]; });

    t.flow("charge_energy", FlowKind::stored,
           "open-circuit voltage, but for the reversible heat, times rate of charge");
    t.flow("pair_energy", FlowKind::stored, "in the RC pairs");
    t.flow("series", FlowKind::lost, "R0 I^2");
    t.flow("pairs", FlowKind::lost, "v^2/R of both pairs");
    t.flow("self_discharge", FlowKind::lost,
           "open-circuit voltage, but for the reversible heat, times self-discharge current");
    t.flow("parameter_drift", FlowKind::lost,
           "-1/2 v^2 dC/dt of both pairs, and what ageing takes of the charge; may be negative");
    t.flow("reversible_heat", FlowKind::lost,
           "w c T I: what the temperature coefficient gives or takes; may be negative");
    t.flow("charge_in", FlowKind::counted, "charge into the terminals");
    t.flow("charge_out", FlowKind::counted, "charge out of the terminals");
    t.flow("throughput", FlowKind::throughput, "absolute terminal power");
    const Unit percent = unit_of<double>("%"), celsius_unit = unit_of<Temperature>("degC");
    t.limit(
         "below empty", "the cell is discharged below empty, which damages it", percent,
         [](const Cell& m, const View& v) { return m.state_of_charge(v); }, [](const Cell&) { return 0.0; },
         [](const Cell& m, const View& v) { return -empty_tolerance - m.state_of_charge(v); })
        .is_least()
        .reads("below empty")
        .remedy("a protector or converter that cuts off earlier");
    t.limit(
         "charged above limit",
         "its voltage is above charge_limit by more than 50 mV, which damages it and can burn it",
         unit_of<Voltage>("V"), [](const Cell&, const View& v) { return v.z[0] - v.z[1]; },
         [](const Cell& m) { return m.p_.charge_limit.value_or(Voltage{}).si(); },
         [](const Cell& m, const View& v) { return m.charged_above_limit(v); })
        .reads("charged above its {} limit")
        .remedy("a lower charge_voltage, and no way for the panels' current past the charger");
    t.limit(
         "charged above full", "without a charge_limit: the charge is above 102 %, which damages it and can burn it",
         percent, [](const Cell& m, const View& v) { return m.state_of_charge(v); }, [](const Cell&) { return 1.0; },
         [](const Cell& m, const View& v) { return m.p_.charge_limit ? -1 : m.state_of_charge(v) - overcharged; })
        .reads("charged above {}")
        .remedy("a lower charge_voltage; and give the cell's charge_limit");
    t.limit(
         "charged too cold",
         "a current above capacity / 1000 h charges it below charge_temperature_minimum, which plates lithium",
         celsius_unit, [](const Cell&, const View& v) { return v.x[temperature]; },
         [](const Cell& m) { return m.p_.charge_temperature_minimum.si(); },
         [](const Cell& m, const View& v) { return m.charged_too_cold(v); })
        .is_least()
        .reads("charged below {}")
        .remedy("a line from the cell's temperature to the charger, whose cold_limit is at least that");
    t.limit(
         "too hot", "the cell is so hot that it can burn", celsius_unit,
         [](const Cell&, const View& v) { return v.x[temperature]; }, [](const Cell&) { return burns.si(); },
         [](const Cell&, const View& v) { return v.x[temperature] - burns.si(); })
        .reads("above {}")
        .remedy("a protector or fuse between the cell and what draws so much");
    t.drives(1);
    t.holds(held_count);
    FieldsBuilder<FaultValues> aged("aged", "");
    aged.scalar("by", &FaultValues::by, "%").at_least(0).at_most(0.95).meaning("share of its capacity that is lost");
    aged.scalar("times", &FaultValues::times, "1")
        .at_least(0.1)
        .at_most(1000)
        .meaning("its resistances are so many times as large");
    t.fault("aged", "less capacity, at the same state of charge, and larger resistances", &Cell::age,
            aged.done().fields, [](const P&, const FaultValues& f) -> std::optional<Finding> {
              if (f.by > 0 || f.times != 1) return std::nullopt;
              return Finding{"by", "so aged a cell is as good as new", "by: 20 %, or times: 2, or both"};
            });
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> Cell::build(const CellParameters& p, std::vector<Finding>& findings) {
  const std::vector<double>& s = p.open_circuit_voltage.x();
  const std::vector<double>& v = p.open_circuit_voltage.y();
  if (s.size() < 2 || s.front() != 0 || s.back() != 1) {
    findings.push_back(
        {"open_circuit_voltage", "the curve does not span the whole charge", "let its charge go from 0 to 100 %"});
  }
  if (!std::is_sorted(v.begin(), v.end())) {
    findings.push_back({"open_circuit_voltage", "the open-circuit voltage falls as charge rises",
                        "sort the points so that voltage never falls"});
  }
  if (!findings.empty()) return nullptr;
  return std::make_shared<Cell>(p);
}

Cell::Cell(const CellParameters& p)
    : p_(p),
      series_energy_(p.series_activation_energy.value_or(p.activation_energy)),
      pair_1_energy_(p.pair_1_activation_energy.value_or(p.activation_energy)),
      pair_2_energy_(p.pair_2_activation_energy.value_or(p.activation_energy)),
      knee_(std::min(3.0, remainder * p.open_circuit_voltage.slope(0) / p.open_circuit_voltage(0))) {}

void Cell::age(CellParameters& p, const FaultValues& f) {
  p.capacity = (1 - f.by) * p.capacity;
  for (Curve* curve : {&p.series_resistance, &p.pair_1_resistance, &p.pair_2_resistance}) {
    std::vector<double> ohms = curve->y();
    for (double& r : ohms) r *= f.times;
    *curve = Curve(curve->x(), std::move(ohms), curve->interpolation(), curve->outside());
  }
}

void Cell::start(const Ambient& ambient, Writable& w) const {
  w.x[charge] = (p_.charge * p_.capacity).si();
  w.x[pair_1] = 0;
  w.x[pair_2] = 0;
  w.x[temperature] = ambient.air.si();
}

void Cell::hold(const View& view, double* held) const {
  held[held_inner_voltage] = inner_voltage(view).si();
  held[held_series_resistance] = series_resistance(view).si();
}

void Cell::guess(const View& view, double* z) const { z[0] = open_circuit(view).si(); }

Voltage Cell::inner_voltage(const View& view) const {
  return open_circuit(view) + Voltage{view.x[pair_1]} + Voltage{view.x[pair_2]};
}

double Cell::unreachable(const View& view) const { return 1 - p_.usable_capacity(view.x[temperature]); }

Temperature Cell::known_temperature(const View& view) { return std::min(Temperature{view.x[temperature]}, hottest); }

double Cell::usable_charge(const View& view) const {
  const double f = unreachable(view);
  return std::max(0.0, (state_of_charge(view) - f) / (1 - f));  // (5)
}

double Cell::left_below_empty(double s) const {
  if (s >= 0) return 1;
  const double p = std::max(0.0, 1 + s / remainder);
  return p * p * ((3 - knee_) - (2 - knee_) * p);  // (11)
}

double Cell::temperature_coefficient(double s) const {
  return p_.temperature_coefficient.empty() ? 0 : left_below_empty(s) * p_.temperature_coefficient(std::max(s, 0.0));
}

double Cell::reaction_voltage(double s) const {
  return left_below_empty(s) * p_.open_circuit_voltage(std::max(s, 0.0)) -
         temperature_coefficient(s) * reference_temperature.si();  // (8)
}

Voltage Cell::open_circuit(const View& view) const {
  const double s = state_of_charge(view);
  return Voltage{reaction_voltage(s) + temperature_coefficient(s) * view.x[temperature]};  // (10)
}

Resistance Cell::series_resistance(const View& view) const {
  return Resistance{p_.series_resistance(usable_charge(view)) * arrhenius(series_energy_, known_temperature(view))};
}

Cell::Resistances Cell::resistances(const View& view) const {
  const double su = usable_charge(view);
  const Temperature t = known_temperature(view);  // (4)
  return {Resistance{p_.series_resistance(su) * arrhenius(series_energy_, t)},
          Resistance{p_.pair_1_resistance(su) * arrhenius(pair_1_energy_, t)},
          Resistance{p_.pair_2_resistance(su) * arrhenius(pair_2_energy_, t)}};
}

Current Cell::self_discharge(const View& view) const {
  const Temperature above = known_temperature(view) - reference_temperature;
  return left_below_empty(state_of_charge(view)) *
         (p_.self_discharge * p_.capacity * std::exp2(above.si() / 10));  // (6)
}

Power Cell::reversible_heat(const View& view) const {
  const VoltagePerKelvin c{temperature_coefficient(state_of_charge(view))};
  return c * Temperature{view.x[temperature]} * current(view);  // (7)
}

Power Cell::heat(const View& view, const Resistances& r) const {
  const Current i = current(view);
  const Voltage v1{view.x[pair_1]}, v2{view.x[pair_2]};
  return r.series * i * i + v1 * v1 / r.pair_1 + v2 * v2 / r.pair_2;
}

double Cell::charged_above_limit(const View& view) const {
  return p_.charge_limit ? view.z[0] - view.z[1] - (*p_.charge_limit + charge_limit_tolerance).si() : -1;
}

double Cell::charged_too_cold(const View& view) const {
  const double colder = p_.charge_temperature_minimum.si() - cold_tolerance - view.x[temperature];
  if (colder < 0) return colder;
  const Current least = least_charging * p_.capacity, lasting = Voltage{view.x[pair_1]} / resistances(view).pair_1;
  return std::min({colder, current(view) / least - 1, lasting / least - 1});
}

void Cell::rates(const View& view, double* dxdt) const { rates(view, resistances(view), dxdt); }

void Cell::rates(const View& view, const Resistances& r, double* dxdt) const {
  const Current i = current(view);
  dxdt[charge] = (i - self_discharge(view)).si();                                   // (3)
  dxdt[pair_1] = ((r.pair_1 * i - Voltage{view.x[pair_1]}) / p_.pair_1_time).si();  // (2)
  dxdt[pair_2] = ((r.pair_2 * i - Voltage{view.x[pair_2]}) / p_.pair_2_time).si();
  const Temperature over_air = Temperature{view.x[temperature]} - Temperature{view.drive[0]};
  dxdt[temperature] =
      ((heat(view, r) + reversible_heat(view) - over_air / p_.thermal_resistance) / p_.heat_capacity).si();  // (7)
}

void Cell::decay(const View&, double* rate) const {
  rate[pair_1] = 1 / p_.pair_1_time.si();  // (2)
  rate[pair_2] = 1 / p_.pair_2_time.si();
  rate[temperature] = 1 / (p_.heat_capacity * p_.thermal_resistance).si();  // (7)
}

void Cell::flows(const View& view, double* flow) const {
  const Resistances r = resistances(view);
  double rate[state_count];
  rates(view, r, rate);
  const Current i = current(view);
  const Temperature t{view.x[temperature]};

  // d(su)/dt and d(ln R)/dt of the Arrhenius factor, for the drift.
  const double s = state_of_charge(view), f = unreachable(view), su = usable_charge(view);
  const double f_rate = -p_.usable_capacity.slope(t.si()) * rate[temperature];
  const double su_rate =
      su > 0 ? rate[charge] / p_.capacity.si() / (1 - f) + (s - 1) / ((1 - f) * (1 - f)) * f_rate : 0;
  const auto ln_rate = [&](Energy activation) {
    return t > hottest ? 0 : -(activation / boltzmann / t) / t.si() * rate[temperature];
  };

  double stored = 0, lost = 0, drift = 0;
  const struct {
    Resistance r;
    const Curve& curve;
    Duration tau;
    Energy activation;
    double v, v_rate;
  } pairs[] = {{r.pair_1, p_.pair_1_resistance, p_.pair_1_time, pair_1_energy_, view.x[pair_1], rate[pair_1]},
               {r.pair_2, p_.pair_2_resistance, p_.pair_2_time, pair_2_energy_, view.x[pair_2], rate[pair_2]}};
  for (const auto& pair : pairs) {
    const double capacitance = (pair.tau / pair.r).si();
    const double relative = pair.curve.slope(su) / pair.curve(su) * su_rate + ln_rate(pair.activation);  // d(ln R)/dt
    const double half_v2_c_rate = -0.5 * pair.v * pair.v * capacitance * relative;
    stored += capacitance * pair.v * pair.v_rate + half_v2_c_rate;
    lost += pair.v * pair.v / pair.r.si();
    drift -= half_v2_c_rate;
  }
  const double power = (view.z[0] - view.z[1]) * i.si();
  flow[charge_energy_flow] = reaction_voltage(s) * rate[charge];
  flow[pair_energy_flow] = stored;
  flow[series_flow] = (r.series * i * i).si();
  flow[pairs_flow] = lost;
  flow[self_discharge_flow] = reaction_voltage(s) * self_discharge(view).si();
  flow[drift_flow] = drift;
  flow[reversible_flow] = reversible_heat(view).si();
  flow[charge_in_flow] = std::max(0.0, i.si());
  flow[charge_out_flow] = std::max(0.0, -i.si());
  flow[throughput_flow] = std::abs(power);
}

double Cell::chemical_energy(const View& view) const {
  const double s = state_of_charge(view);
  // (8), in two parts: the integral of w from the dead cell to s, then that of OCV - c T25 from empty to s.
  const double p = std::clamp(1 + s / remainder, 0.0, 1.0);
  const double left = remainder * p * p * p * ((3 - knee_) / 3 - (2 - knee_) / 4 * p);
  double volts = reaction_voltage(0) * left;
  if (s > 0) {
    volts += p_.open_circuit_voltage.integral(s);
    const Curve& c = p_.temperature_coefficient;
    if (!c.empty()) volts -= reference_temperature.si() * (c.integral(s) - c.integral(0));
  }
  return p_.capacity.si() * volts;
}

double Cell::pair_energy(const View& view) const {
  const Resistances r = resistances(view);
  const Voltage v1{view.x[pair_1]}, v2{view.x[pair_2]};
  return (0.5 * v1 * v1 * (p_.pair_1_time / r.pair_1) + 0.5 * v2 * v2 * (p_.pair_2_time / r.pair_2)).si();
}

void Cell::take_over(const Model& former, const View& view, Writable& w, double* booked) const {
  const Cell& before = static_cast<const Cell&>(former);
  w.x[charge] = before.state_of_charge(view) * p_.capacity.si();
  View after = view;
  after.x = w.x;
  booked[charge_energy_flow] = chemical_energy(after) - before.chemical_energy(view);  // (9)
  booked[pair_energy_flow] = pair_energy(after) - before.pair_energy(view);            // (9)
  booked[drift_flow] = -(booked[charge_energy_flow] + booked[pair_energy_flow]);
}

}  // namespace overwinter
