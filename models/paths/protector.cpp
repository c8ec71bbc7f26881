#include "models/paths/protector.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "models/ticks.hpp"

namespace overwinter {

namespace {
constexpr double off = -1.0;  // a guard that cannot be due in the present memory
}  // namespace

const ModelTable& Protector::describe() {
  static const ModelTable table = [] {
    using P = ProtectorParameters;
    using M = Protector;
    const std::string practice = "common practice for one-cell protection circuits";
    TableBuilder<M, P> t("protector",
                         "Protection circuit between one lithium cell and everything else: over-discharge, over-charge "
                         "and over-current.");
    t.equation("1", "closed: I = (Vcell - Vpack) / R", "Ohm's law");
    t.equation("2", "after over-discharge or over-current: I = -D(Vpack - Vcell) + G (Vcell - Vpack)",
               "body diode of the discharge transistor; D: class assumption, rounded knee");
    t.equation("3", "after over-charge: I = D(Vcell - Vpack) + G (Vcell - Vpack)",
               "body diode of the charge transistor");
    t.equation("4", "both off: I = G (Vcell - Vpack)", "leakage");
    t.equation("5", "G = Ioff / Voff; after over-current + 1 / Rrelease", practice);
    t.equation("6", "Iown = Ic Vcell / sqrt(Vcell^2 + (0.3 V)^2)", "class assumption: vanishes with the cell voltage");
    t.equation("7", "slope of D: Rdiode + R", "in series");

    t.scalar("resistance", &P::resistance, "mohm")
        .required()
        .above(0)
        .at_most(10)
        .meaning("R: both transistors on, and the traces");
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
    t.scalar("off_leakage", &P::off_leakage, "uA")
        .at_least(0)
        .at_most(1e-3)
        .meaning("through a transistor that is off, at off_leakage_voltage")
        .source("1 uA, the usual datasheet limit of a power MOSFET: common practice");
    t.scalar("off_leakage_voltage", &P::off_leakage_voltage, "V")
        .above(0)
        .at_most(100)
        .meaning("voltage at which off_leakage is stated")
        .source("20 V: common practice");
    t.scalar("consumption", &P::consumption, "uA")
        .at_least(0)
        .at_most(0.01)
        .meaning("own consumption from the cell")
        .source("3 to 6 uA: " + practice);
    t.scalar("tripped_consumption", &P::tripped_consumption, "uA")
        .at_least(0)
        .at_most(0.01)
        .meaning("own consumption after an over-discharge trip")
        .source("0.1 uA powered down, 1 to 2 uA where it goes on watching the cell: " + practice);
    t.scalar("overdischarge_voltage", &P::overdischarge_voltage, "V")
        .above(0)
        .at_most(4)
        .meaning("at this cell voltage and below, discharge stops after overdischarge_delay")
        .source("2.3 to 2.5 V, or 2.8 to 3.0 V: " + practice);
    t.scalar("overdischarge_delay", &P::overdischarge_delay, "ms")
        .at_least(1e-6)
        .at_most(60)
        .meaning("how long the cell must be that low")
        .source("20 to 150 ms: " + practice);
    t.choice("release", &P::release, {"voltage", "charge"})
        .meaning(
            "what ends over-discharge: voltage, the cell voltage alone at overdischarge_release; charge, only a "
            "charger "
            "that makes current flow into the cell")
        .source("both are sold: " + practice);
    t.scalar("overdischarge_release", &P::overdischarge_release, "V")
        .above(0)
        .at_most(4.5)
        .meaning("for release voltage: at this cell voltage and above, discharge is allowed again")
        .source("2.9 to 3.0 V: " + practice);
    t.scalar("charging_release", &P::charging_release, "V")
        .above(0)
        .at_most(4.5)
        .meaning(
            "for release charge: the cell voltage that the cell must have besides; without it overdischarge_voltage")
        .source(practice);
    t.scalar("charger_detection", &P::charger_detection, "V")
        .above(0)
        .at_most(2)
        .meaning("for release charge: pack above cell by this much counts as a charger")
        .source("class assumption: far below the body diode's drop at a milliampere");
    t.scalar("overdischarge_release_delay", &P::overdischarge_release_delay, "ms")
        .at_least(1e-6)
        .at_most(60)
        .meaning("how long the condition of release must hold")
        .source("class assumption: 1 to 2 ms");
    t.scalar("overcharge_voltage", &P::overcharge_voltage, "V")
        .above(0)
        .at_most(5)
        .meaning("at this cell voltage and above, charging stops after overcharge_delay")
        .source("4.25 to 4.30 V for 4.2 V cells: " + practice);
    t.scalar("overcharge_delay", &P::overcharge_delay, "s")
        .at_least(1e-6)
        .at_most(60)
        .meaning("how long the cell must be that high")
        .source("0.1 to 1.3 s: " + practice);
    t.scalar("overcharge_release", &P::overcharge_release, "V")
        .above(0)
        .at_most(5)
        .meaning("at this cell voltage and below, charging is allowed again")
        .source("4.05 to 4.15 V: " + practice);
    t.scalar("overcharge_release_delay", &P::overcharge_release_delay, "ms")
        .at_least(1e-6)
        .at_most(60)
        .meaning("how long the cell must be that low again")
        .source("class assumption");
    t.scalar("overcurrent", &P::overcurrent, "A")
        .required()
        .above(0)
        .at_most(100)
        .meaning("at this discharge current and above, discharge stops after overcurrent_delay")
        .source("detection voltage of 100 to 150 mV over the transistors' resistance: " + practice);
    t.scalar("overcurrent_delay", &P::overcurrent_delay, "ms")
        .at_least(1e-6)
        .at_most(60)
        .meaning("how long the current must be that strong")
        .source("8 to 20 ms: " + practice);
    t.scalar("overcurrent_release", &P::overcurrent_release, "V")
        .above(0)
        .at_most(2)
        .meaning("cell above pack by no more than this: the load counts as removed")
        .source("the detection voltage itself, 100 to 150 mV: " + practice);
    t.scalar("release_resistance", &P::release_resistance, "kohm")
        .at_least(100)
        .at_most(1e7)
        .meaning("across the switch after an over-current trip: pulls the pack up once the load is gone")
        .source("20 to 100 kohm: " + practice);
    t.scalar("overcurrent_retry", &P::overcurrent_retry, "ms")
        .at_least(1e-6)
        .at_most(3600)
        .meaning("how long the load must be gone before discharge is allowed again")
        .source("class assumption");

    t.pin("cell", "the cell's positive terminal");
    t.pin("pack", "everything else: charger and load");
    t.pin("ground", "return of its own consumption");

    t.output("state", unit_of<double>("1"), "which way is closed, and since what",
             [](const M& m, const View& v) { return static_cast<double>(m.label(v)); },
             {"closed", "over-discharge", "over-charge", "over-current", "both sides off"});
    t.output("current", unit_of<Current>("mA"), "from cell to pack, positive when discharging",
             [](const M& m, const View& v) { return m.current(v); });

    t.flow("series", FlowKind::lost, "resistance times current squared");
    t.flow("body_diode", FlowKind::lost, "in the diode of the transistor that is off");
    t.flow("consumption", FlowKind::lost, "own consumption from the cell");
    t.flow("leakage", FlowKind::lost, "through what is off, and through the release resistance");

    t.margin(
        "over-discharge", "cell voltage above overdischarge_voltage while discharge is allowed",
        [](const M& m) { return m.p_.overdischarge_voltage.si(); },
        [](const M& m, const View& v) {
          return v.memory[discharge] == feeding ? -m.excess(discharge_trip, v)
                                                : std::numeric_limits<double>::infinity();
        },
        "cell", "over-discharge");

    t.condition("discharge", "whether the cell feeds what hangs on it")
        .way(
            "closed", "the cell feeds", [](const M&, Writable&) {},
            [](const M&, const View& v, const Tick*) { return v.memory[discharge] == feeding; })
        .way(
            "tripped", "open since an over-discharge",
            [](const M&, Writable& w) { w.memory[discharge] = over_discharge; },
            [](const M&, const View& v, const Tick*) { return v.memory[discharge] == over_discharge; });
    t.memories(memory_count);
    watch<charge_trip>(t, "over-charge", "the cell reached overcharge_voltage",
                       "the cell fell below overcharge_voltage within the delay");
    watch<charge_release>(t, "over-charge release", "the cell fell to overcharge_release",
                          "the cell rose above overcharge_release within the delay");
    watch<current_trip>(t, "over-current", "the discharge current reached overcurrent",
                        "the discharge current fell below overcurrent within the delay");
    watch<current_release>(t, "over-current release", "the pack came up to the cell: the load is removed",
                           "a load pulled the pack down again within the retry time");
    watch<discharge_release>(t, "over-discharge release", "what ends over-discharge has come: see release",
                             "what would have ended over-discharge went away within the delay");
    watch<discharge_trip>(t, "over-discharge", "the cell fell to overdischarge_voltage",
                          "the cell rose above overdischarge_voltage within the delay");

    t.alarm("over-charge trip", "the cell was too full for too long: charging stops",
            [](const M&, const View&, Writable& w) {
              w.memory[charge] = over_charge;
              w.memory[charge_wait] = 0;
              w.alarm[charge_trip] = never;
            });
    t.alarm("over-charge release", "charging is allowed again", [](const M&, const View&, Writable& w) {
      w.memory[charge] = accepting;
      w.memory[charge_wait] = 0;
      w.alarm[charge_release] = never;
    });
    t.alarm("over-current trip", "the discharge current was too strong for too long: discharge stops",
            [](const M&, const View&, Writable& w) {
              w.memory[discharge] = over_current;
              w.memory[current_wait] = 0;
              w.alarm[current_trip] = never;
            })
        .role(EventRole::cut);
    t.alarm("over-current release", "the load was gone for the retry time: discharge is allowed again",
            [](const M&, const View&, Writable& w) {
              w.memory[discharge] = feeding;
              w.memory[current_wait] = 0;
              w.alarm[current_release] = never;
            })
        .role(EventRole::restored);
    t.alarm("over-discharge release", "discharge is allowed again", [](const M&, const View&, Writable& w) {
       w.memory[discharge] = feeding;
       w.memory[voltage_wait] = 0;
       w.alarm[discharge_release] = never;
     }).role(EventRole::restored);
    t.alarm("over-discharge trip", "the cell was too empty for too long: discharge stops",
            [](const M&, const View&, Writable& w) {
              w.memory[discharge] = over_discharge;
              w.memory[voltage_wait] = w.memory[current_wait] = 0;
              w.alarm[discharge_trip] = w.alarm[current_trip] = w.alarm[current_release] = never;
            })
        .role(EventRole::cut);
    return t.done();
  }();
  return table;
}

/// The two events that start and drop the delay of a condition.
template <Protector::Watch W, class Table>
void Protector::watch(Table& t, const std::string& name, const std::string& seen, const std::string& passed) {
  t.event(
       name + " seen", seen,
       [](const Protector& m, const View& v) { return in_force(W, v) && !v.memory[wait_of(W)] ? m.excess(W, v) : off; },
       [](const Protector& m, const View&, Writable& w) {
         w.memory[wait_of(W)] = 1;
         w.alarm[W] = w.now.utc + ticks(m.delay(W));
       })
      .routine();
  t.event(
       name + " passed", passed,
       [](const Protector& m, const View& v) {
         return in_force(W, v) && v.memory[wait_of(W)] ? -m.excess(W, v) - m.hysteresis(W) : off;
       },
       [](const Protector&, const View&, Writable& w) {
         w.memory[wait_of(W)] = 0;
         w.alarm[W] = never;
       })
      .routine();
}

Protector::Protector(const ProtectorParameters& p)
    : p_(p),
      diode_(p.diode_voltage, p.diode_resistance + p.resistance),  // (7)
      off_conductance_((p.off_leakage / p.off_leakage_voltage).si()),
      release_conductance_(1.0 / p.release_resistance.si()) {}

std::shared_ptr<const Model> Protector::build(const ProtectorParameters& p, std::vector<Finding>& findings) {
  const auto check = [&](bool fine, const char* field, std::string message, std::string suggestion) {
    if (!fine) findings.push_back({field, std::move(message), std::move(suggestion)});
  };
  const Voltage comparator_width{comparator};
  check(p.overdischarge_voltage + comparator_width < p.overdischarge_release, "overdischarge_release",
        "over-discharge would be released where it trips",
        "choose a value above overdischarge_voltage, usually by 0.2 to 0.6 V");
  check(p.overcharge_release + comparator_width < p.overcharge_voltage, "overcharge_release",
        "over-charge would be released where it trips",
        "choose a value below overcharge_voltage, usually by 0.1 to 0.2 V");
  check(p.overdischarge_release < p.overcharge_voltage, "overdischarge_release",
        "the cell would be over-charged before discharge is allowed again", "choose a value below overcharge_voltage");
  if (p.charging_release) {
    check(p.overdischarge_voltage <= *p.charging_release, "charging_release",
          "discharge would be allowed in a cell that is too empty for it",
          "choose overdischarge_voltage or a value above it");
    check(*p.charging_release < p.overcharge_voltage, "charging_release",
          "the cell would be over-charged before discharge is allowed again",
          "choose a value below overcharge_voltage");
  }
  check(p.charger_detection < p.diode_voltage, "charger_detection",
        "the body diode holds the pack below it, so that hardly any charger would be seen",
        "choose a value below diode_voltage");
  check(p.tripped_consumption <= p.consumption, "tripped_consumption", "it is larger than consumption",
        "a tripped protector consumes no more than before");
  if (!findings.empty()) return nullptr;
  return std::make_shared<Protector>(p);
}

void Protector::start(const Ambient&, Writable& w) const {
  std::fill(w.memory, w.memory + memory_count, 0);
  std::fill(w.alarm, w.alarm + watch_count, never);
}

double Protector::excess(Watch which, const View& view) const {
  const double cell = cell_voltage(view);
  switch (which) {
    case charge_trip:
      return cell - p_.overcharge_voltage.si();
    case charge_release:
      return p_.overcharge_release.si() - cell;
    case current_trip:
      return current(view) - p_.overcurrent.si();
    case current_release:
      return p_.overcurrent_release.si() - across(view);
    case discharge_release:
      return p_.release == DischargeRelease::voltage ? cell - p_.overdischarge_release.si() : charger_seen(view);
    case discharge_trip:
      return p_.overdischarge_voltage.si() - cell;
    case watch_count:
      break;
  }
  return off;
}

double Protector::charger_seen(const View& view) const {
  const Voltage bound = p_.charging_release.value_or(p_.overdischarge_voltage);
  return std::min(-across(view) - p_.charger_detection.si(), cell_voltage(view) - bound.si());
}

bool Protector::in_force(Watch which, const View& view) {
  switch (which) {
    case charge_trip:
      return view.memory[charge] == accepting;
    case charge_release:
      return view.memory[charge] == over_charge;
    case current_trip:
      return view.memory[discharge] == feeding;
    case current_release:
      return view.memory[discharge] == over_current;
    case discharge_release:
      return view.memory[discharge] == over_discharge;
    case discharge_trip:
      return view.memory[discharge] != over_discharge;
    case watch_count:
      break;
  }
  return false;
}

Duration Protector::delay(Watch which) const {
  const Duration delays[] = {p_.overcharge_delay,  p_.overcharge_release_delay,    p_.overcurrent_delay,
                             p_.overcurrent_retry, p_.overdischarge_release_delay, p_.overdischarge_delay};
  return delays[which];
}

double Protector::hysteresis(Watch which) const {
  return which == current_trip ? current_comparator * p_.overcurrent.si() : comparator;
}

Protector::Label Protector::label(const View& view) const {
  const std::int32_t d = view.memory[discharge];
  if (view.memory[charge] == over_charge) return d == feeding ? after_over_charge : both_off;
  return d == over_discharge ? after_over_discharge : d == over_current ? after_over_current : all_closed;
}

void Protector::flows(const View& view, double* flow) const {
  const Branches<double> b = branches(view);
  const double v = across(view);
  const double series = p_.resistance.si() * b.diode * b.diode;  // (7)
  flow[0] = v * b.closed + series;
  flow[1] = v * b.diode - series;
  flow[2] = cell_voltage(view) * consumption(view, cell_voltage(view));
  flow[3] = v * b.bypass;
}

}  // namespace overwinter
