// A made-up parameter struct with every kind of field.
#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "models/table.hpp"

namespace overwinter {

enum class SampleLaw { linear, square };

struct SampleStage {
  std::string name;
  Duration duration{};
  std::optional<Current> current;
  bool last = false;
  int repeats = 1;
  Voltage threshold{2.5};
};

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
  std::string label;
  std::vector<SampleStage> stages;
};

struct SampleModel {
  static std::shared_ptr<const Model> build(const SampleParameters&, std::vector<Finding>&) { return nullptr; }
};

inline const std::vector<Field>& sample_columns() {
  static const std::vector<Field> columns = [] {
    using S = SampleStage;
    FieldsBuilder<S> t("stage", "One row.");
    t.text("name", &S::name).required().meaning("what it is called");
    t.scalar("duration", &S::duration, "s").required().above(0).at_most(3600).meaning("how long it lasts");
    t.scalar("current", &S::current, "mA").at_least(0);
    t.flag("last", &S::last);
    t.count("repeats", &S::repeats).at_least(1);
    t.scalar("threshold", &S::threshold, "V").required();
    return t.done().fields;
  }();
  return columns;
}

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
    t.text("label", &P::label).meaning("printed on it");
    t.rows("stages", &P::stages, sample_columns()).meaning("one after the other");
    return t.done();
  }();
  return table;
}

}  // namespace overwinter
