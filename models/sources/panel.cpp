#include "models/sources/panel.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

namespace overwinter {

namespace {

constexpr double open_over_label_voltage = 1.2;    // (4)
constexpr double short_over_label_current = 1.08;  // (4)
constexpr Voltage typical_cell_voltage{0.6};       // open-circuit voltage of a silicon cell: common practice

/// The datasheet's four values, completed from the label where only that is given.
std::optional<PanelDatasheet> complete(const PanelParameters& p, std::vector<std::string>& assumptions,
                                       std::vector<Finding>& findings) {
  PanelDatasheet d;
  d.current_coefficient = p.current_coefficient;
  d.voltage_coefficient = p.voltage_coefficient;
  const bool any_label = p.label_voltage || p.label_current;
  const bool any_curve =
      p.short_circuit_current || p.open_circuit_voltage || p.maximum_power_current || p.maximum_power_voltage;
  if (any_label && any_curve) {
    findings.push_back({"label_voltage", "label values stand beside datasheet values",
                        "give either the label's voltage and current or the datasheet's four values"});
    return std::nullopt;
  }
  if (any_label) {
    if (!p.label_voltage || !p.label_current) {
      findings.push_back({p.label_voltage ? "label_voltage" : "label_current",
                          "a label needs both its voltage and its current",
                          p.label_voltage ? "add label_current" : "add label_voltage"});
      return std::nullopt;
    }
    d.maximum_power_voltage = *p.label_voltage;
    d.maximum_power_current = *p.label_current;
    d.open_circuit_voltage = open_over_label_voltage * *p.label_voltage;
    d.short_circuit_current = short_over_label_current * *p.label_current;
    assumptions.push_back(
        "label only: its voltage and current taken as the maximum power point, open-circuit voltage 1.2 "
        "times and short-circuit current 1.08 times the label");
  } else {
    const struct {
      const char* key;
      bool given;
    } needed[] = {{"short_circuit_current", p.short_circuit_current.has_value()},
                  {"open_circuit_voltage", p.open_circuit_voltage.has_value()},
                  {"maximum_power_current", p.maximum_power_current.has_value()},
                  {"maximum_power_voltage", p.maximum_power_voltage.has_value()}};
    for (const auto& value : needed) {
      if (!value.given) {
        findings.push_back(
            {value.key, std::string("the panel's ") + value.key + " is missing",
             "give the datasheet's four values, or label_voltage and label_current of a panel sold without"});
      }
    }
    if (!findings.empty()) return std::nullopt;
    d.short_circuit_current = *p.short_circuit_current;
    d.open_circuit_voltage = *p.open_circuit_voltage;
    d.maximum_power_current = *p.maximum_power_current;
    d.maximum_power_voltage = *p.maximum_power_voltage;
  }
  if (!(d.maximum_power_voltage < d.open_circuit_voltage)) {
    findings.push_back({"maximum_power_voltage", "the voltage at maximum power is not below the open-circuit voltage",
                        "check the two against the datasheet"});
  }
  if (!(d.maximum_power_current < d.short_circuit_current)) {
    findings.push_back({"maximum_power_current", "the current at maximum power is not below the short-circuit current",
                        "check the two against the datasheet"});
  }
  if (p.cells) {
    d.cells = *p.cells;
  } else {
    d.cells = std::max(1, static_cast<int>(std::lround(d.open_circuit_voltage / typical_cell_voltage)));
    assumptions.push_back(std::to_string(d.cells) + " cells in series, from 0.6 V open-circuit voltage each");
  }
  if (!findings.empty()) return std::nullopt;
  return d;
}

}  // namespace

const ModelTable& Panel::describe() {
  static const ModelTable table = [] {
    using P = PanelParameters;
    TableBuilder<Panel, P> t("panel",
                             "A photovoltaic panel on its own plane: light, cell temperature, single-diode curve.");
    t.equation("1", "G = tau (K(theta) Gbeam + Gsky + Gground)",
               "Duffie & Beckman 2020, ch. 2.15, 2.16 and 5; ASHRAE 93");
    t.equation("2", "Tc = Tair + (NOCT - 20 degC) G / (800 W/m2)", "Ross 1976; NOCT conditions of IEC 61215");
    t.equation("3", "I = IL - I0 (exp((V + I Rs)/a) - 1) - (V + I Rs)/Rsh",
               "De Soto, Klein & Beckman 2006, Solar Energy 80(1), 78-88, with its translation to G and Tc");
    t.equation("4", "label only: Vmp, Imp = label, Voc = 1.2 Vmp, Isc = 1.08 Imp",
               "class assumption, reported by the run");

    t.scalar("short_circuit_current", &P::short_circuit_current, "mA")
        .above(0)
        .at_most(20)
        .meaning("Isc at 1000 W/m2 and 25 degC");
    t.scalar("open_circuit_voltage", &P::open_circuit_voltage, "V")
        .above(0)
        .at_most(200)
        .meaning("Voc at 1000 W/m2 and 25 degC");
    t.scalar("maximum_power_current", &P::maximum_power_current, "mA")
        .above(0)
        .at_most(20)
        .meaning("Imp at 1000 W/m2 and 25 degC");
    t.scalar("maximum_power_voltage", &P::maximum_power_voltage, "V")
        .above(0)
        .at_most(200)
        .meaning("Vmp at 1000 W/m2 and 25 degC");
    t.scalar("label_voltage", &P::label_voltage, "V")
        .above(0)
        .at_most(200)
        .meaning("x of a panel sold only as \"x V, y mA\", instead of the four values above");
    t.scalar("label_current", &P::label_current, "mA")
        .above(0)
        .at_most(20)
        .meaning("y of a panel sold only as \"x V, y mA\"");
    t.scalar("current_coefficient", &P::current_coefficient, "%/K")
        .at_least(-0.005)
        .at_most(0.005)
        .meaning("relative change of Isc per kelvin")
        .source("0.05 %/K for crystalline silicon: common practice");
    t.scalar("voltage_coefficient", &P::voltage_coefficient, "%/K")
        .at_least(-0.01)
        .at_most(0)
        .meaning("relative change of Voc per kelvin")
        .source("-0.32 %/K for crystalline silicon: common practice");
    t.scalar("nominal_operating_temperature", &P::nominal_operating_temperature, "degC")
        .at_least(293.15)
        .at_most(373.15)
        .meaning("NOCT: cell temperature at 800 W/m2, 20 degC air, 1 m/s wind")
        .source("45 degC: common practice");
    t.scalar("tilt", &P::tilt, "deg")
        .required()
        .at_least(0)
        .at_most(pi)
        .meaning("from horizontal; 90 deg stands upright");
    t.scalar("azimuth", &P::azimuth, "deg")
        .required()
        .at_least(-2 * pi)
        .at_most(2 * pi)
        .meaning("where the panel faces, clockwise from true north; 180 deg is south");
    t.scalar("transmittance", &P::transmittance, "%")
        .above(0)
        .at_most(1)
        .meaning("tau: what dirt, dew and a cover window let through");
    t.scalar("incidence_loss", &P::incidence_loss, "1")
        .at_least(0)
        .at_most(0.5)
        .meaning("b0 of the incidence-angle modifier 1 - b0 (1/cos(theta) - 1)")
        .source("0.05 for flat glass: common practice");
    t.choice("sky", &P::sky, {"isotropic", "hay-davies"})
        .of_the_law()
        .meaning("how diffuse light is spread over the sky")
        .source("Liu & Jordan 1963; Hay & Davies 1980");
    t.count("cells", &P::cells).at_least(1).at_most(400).meaning("cells in series");

    t.pin("plus", "positive terminal");
    t.pin("minus", "negative terminal");
    t.unknown("junction", unit_of<Voltage>("V"), "terminal voltage plus the drop of the series resistance");
    t.output("light", unit_of<Irradiance>("W/m2"), "effective light on the plane",
             [](const Panel&, const View& v) { return v.drive[plane_irradiance_]; });
    t.output("cell_temperature", unit_of<Temperature>("degC"), "of the panel's cells",
             [](const Panel&, const View& v) { return v.drive[cell_temperature]; });
    t.output("voltage", unit_of<Voltage>("V"), "between the terminals",
             [](const Panel&, const View& v) { return v.z[0] - v.z[1]; });
    t.output("current", unit_of<Current>("mA"), "delivered",
             [](const Panel& m, const View& v) { return m.current(v, Voltage{v.z[2]}).si(); });

    t.flow("harvest", FlowKind::source, "delivered at the terminals");
    t.flow("dark_leakage", FlowKind::lost, "taken in by the panel in the dark");
    t.flow("offer", FlowKind::offered, "what it would deliver at its maximum power point");
    t.drives(drive_count);
    FieldsBuilder<FaultValues> share("soiled", "");
    share.scalar("by", &FaultValues::by, "%").required().above(0).at_most(1).meaning("share of its light that is lost");
    t.fault(
        "soiled", "a share of its light is lost: snow, dirt, a leaf; transmittance is that much smaller",
        [](P& p, const FaultValues& f) { p.transmittance *= 1 - f.by; }, share.done().fields);
    return t.done();
  }();
  return table;
}

std::shared_ptr<const Model> Panel::build(const PanelParameters& p, std::vector<Finding>& findings) {
  std::vector<std::string> assumptions;
  const std::optional<PanelDatasheet> d = complete(p, assumptions, findings);
  if (!d) return nullptr;
  try {
    std::string note;
    const SingleDiode reference = five_parameters(*d, note);
    if (!note.empty()) assumptions.push_back(note);
    return std::make_shared<Panel>(p, *d, reference, std::move(assumptions));
  } catch (const std::domain_error& fault) {
    findings.push_back({p.label_voltage ? "label_voltage" : "maximum_power_voltage", fault.what(),
                        "check the four values: fill factors of crystalline silicon lie between 0.6 and 0.8"});
    return nullptr;
  }
}

Panel::Panel(const PanelParameters& p, const PanelDatasheet& d, const SingleDiode& reference,
             std::vector<std::string> assumptions)
    : p_(p), datasheet_(d), reference_(reference), assumptions_(std::move(assumptions)) {}

void Panel::drive(const Ambient& ambient, double* drive) const {
  const Plane plane{p_.tilt, p_.azimuth};
  const PlaneIrradiance poa = plane_irradiance(ambient.sky, plane, p_.sky);
  const double k =
      incidence_modifier(cos_incidence(ambient.sky.sun_zenith, ambient.sky.sun_azimuth, plane), p_.incidence_loss);
  const Irradiance g = p_.transmittance * (k * poa.beam + poa.sky + poa.ground);  // (1)
  const Temperature tc =
      ambient.air + (p_.nominal_operating_temperature - celsius(20)) * (g / Irradiance{800.0});  // (2)
  const SingleDiode now = translate(reference_, datasheet_, g, tc);
  drive[light] = now.light.si();
  drive[saturation] = now.saturation.si();
  drive[slope] = now.slope.si();
  drive[shunt] = now.shunt.si();
  drive[plane_irradiance_] = g.si();
  drive[cell_temperature] = tc.si();
  drive[offered] = now.maximum_power().power.si();
}

void Panel::flows(const View& view, double* flow) const {
  const double delivered = (Voltage{view.z[0] - view.z[1]} * current(view, Voltage{view.z[2]})).si();
  flow[0] = std::max(0.0, delivered);
  flow[1] = std::max(0.0, -delivered);
  flow[2] = view.drive[offered];
}

}  // namespace overwinter
