// A made-up parameter struct with every kind of field.
#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "models/table.hpp"

namespace overwinter {

enum class SampleLaw { linear, square };

struct SampleParameters {
  Voltage voltage{1.0};
  Resistance resistance{};
  double share = 0.5;
  Temperature limit = celsius(20);
  Temperature hysteresis{3.0};
  Angle tilt{};
  std::optional<Current> leakage;
  int cells = 2;
  bool wired = false;
  SampleLaw law = SampleLaw::linear;
  Curve shape;
  Map efficiency;
};

struct SampleModel {
  static std::shared_ptr<const Model> build(const SampleParameters&, std::vector<Finding>&) { return nullptr; }
};

inline const ModelTable& sample_table() {
  static const ModelTable table = [] {
    using P = SampleParameters;
    TableBuilder<SampleModel, P> t("sample", "Every kind of field.");
    const Axis charge{"charge", unit_of<double>("%"), Limit{0, false}, Limit{1, false}};
    const Axis volts{"voltage", unit_of<Voltage>("V"), std::nullopt, std::nullopt};
    const Axis amperes{"load", unit_of<Current>("mA"), std::nullopt, std::nullopt};
    const Axis share{"share", unit_of<double>("%"), std::nullopt, std::nullopt};
    t.scalar("voltage", &P::voltage, "V").above(0).at_most(30).meaning("supply");
    t.scalar("resistance", &P::resistance, "ohm").required().above(0).meaning("on the front page");
    t.scalar("share", &P::share, "%").at_least(0).at_most(0.35);
    t.scalar("limit", &P::limit, "degC").at_least(253.15);
    t.scalar("hysteresis", &P::hysteresis, "K").difference().above(0);
    t.scalar("tilt", &P::tilt, "deg").at_least(0).at_most(pi / 2);
    t.scalar("leakage", &P::leakage, "uA").at_least(0);
    t.count("cells", &P::cells).at_least(1).at_most(100);
    t.flag("wired", &P::wired);
    t.choice("law", &P::law, {"linear", "square"});
    t.curve("shape", &P::shape, charge, volts, Interpolation::linear, Outside::hold).values_above(0);
    t.map("efficiency", &P::efficiency, volts, amperes, share).values_at_most(1);
    return t.done();
  }();
  return table;
}

}  // namespace overwinter
