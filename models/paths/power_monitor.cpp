#include "models/paths/power_monitor.hpp"

#include "models/reading.hpp"

namespace overwinter {

const ModelTable& PowerMonitor::describe() {
  static const ModelTable table = [] {
    using P = PowerMonitorParameters;
    using M = PowerMonitor;
    TableBuilder<M, P> t("power-monitor",
                         "Shunt in the current path, with the errors of what the firmware reads of it.");
    t.equation("1", "Vin - Vout = Rs I", "Ohm's law");
    t.equation("2", "shown voltage = (1 + g) Vout + offset", "datasheet terms: common practice");
    t.equation("3", "shown current = ((1 + g) Rs I + shunt offset) / Rs", "datasheet terms: common practice");
    t.equation("4", "supply: I = Is, resistive below the lowest supply", "class assumption");
    t.scalar("shunt", &P::shunt, "mohm")
        .above(0)
        .at_most(1000)
        .meaning("Rs: resistance in the current path")
        .source("0.1 ohm: common practice");
    t.scalar("voltage_step", &P::voltage_step, "mV")
        .at_least(0)
        .at_most(1)
        .meaning("resolution of the voltage reading; 0 for none")
        .source("4 mV: common practice for 12-bit high-side monitors");
    t.scalar("voltage_offset", &P::voltage_offset, "mV")
        .at_least(-1)
        .at_most(1)
        .meaning("offset of the voltage reading");
    t.scalar("voltage_noise", &P::voltage_noise, "mV")
        .at_least(0)
        .at_most(1)
        .meaning("rms noise of the voltage reading before rounding");
    t.scalar("shunt_step", &P::shunt_step, "uV")
        .at_least(0)
        .at_most(0.1)
        .meaning("resolution of the shunt voltage")
        .source("10 uV: common practice for 12-bit high-side monitors");
    t.scalar("shunt_offset", &P::shunt_offset, "uV").at_least(-0.1).at_most(0.1).meaning("offset of the shunt voltage");
    t.scalar("gain_error", &P::gain_error, "%").at_least(-0.5).at_most(0.5).meaning("g: of both readings");
    t.scalar("supply_current", &P::supply_current, "mA")
        .at_least(0)
        .at_most(0.1)
        .meaning("Is: own consumption")
        .source("0.3 to 1 mA: common practice");
    t.scalar("minimum_supply", &P::minimum_supply, "V")
        .at_least(0.5)
        .at_most(100)
        .meaning("lowest supply at which it reads")
        .source("2.7 V: common practice");
    t.count("noise_seed", &P::noise_seed)
        .at_least(0)
        .at_most(1e9)
        .meaning("names the sequence of noise")
        .source("any number");
    t.pin("in", "side of the source");
    t.pin("out", "side of the load; the voltage is read here");
    t.pin("supply", "own supply");
    t.pin("ground", "return of the own supply and reference of the voltage");
    t.line_output("voltage", LineKind::reading, "voltage reading", [](const M& m, const View& v, double* to) {
      Reading{m.shown_voltage(v), m.reads(v) ? m.p_.voltage_noise.si() : 0, m.p_.voltage_step.si(),
              static_cast<double>(m.p_.noise_seed)}
          .to(to);
    });
    t.output("voltage", unit_of<Voltage>("V"), "voltage reading without noise", [](const M& m, const View& v) {
      return Reading{m.shown_voltage(v), 0, m.p_.voltage_step.si(), 0}.read(0);
    });
    t.output("current", unit_of<Current>("mA"), "current reading", [](const M& m, const View& v) {
      return Reading{m.shown_current(v), 0, m.p_.shunt_step.si() / m.p_.shunt.si(), 0}.read(0);
    });
    t.flow("shunt", FlowKind::lost, "Rs I^2");
    t.flow("consumption", FlowKind::lost, "own supply");
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> PowerMonitor::build(const PowerMonitorParameters& p, std::vector<Finding>&) {
  return std::make_shared<PowerMonitor>(p);
}

double PowerMonitor::shown_voltage(const View& view) const {
  return reads(view) ? (1 + p_.gain_error) * (view.z[1] - view.z[3]) + p_.voltage_offset.si() : 0;  // (2)
}

double PowerMonitor::shown_current(const View& view) const {
  const double drop = view.z[0] - view.z[1];
  return reads(view) ? ((1 + p_.gain_error) * drop + p_.shunt_offset.si()) / p_.shunt.si() : 0;  // (3)
}

void PowerMonitor::flows(const View& view, double* flow) const {
  const double drop = view.z[0] - view.z[1], v = view.z[2] - view.z[3];
  flow[0] = drop * drop / p_.shunt.si();
  flow[1] = v * consumption(v);
}

}  // namespace overwinter
