#include "models/table.hpp"

#include <doctest/doctest.h>

#include "models/policy.hpp"

using namespace overwinter;

namespace {

enum class Mode { slow, fast };

struct Line {
  Duration length{7.0};
  std::string note = "none";
};

struct GadgetParameters {
  Resistance resistance{5.0};
  std::optional<Voltage> limit;
  int cells = 3;
  std::optional<int> spares;
  bool damped = true;
  Mode mode = Mode::fast;
  Temperature margin{2.0};
  Curve curve;
  Map map;
  std::string colour = "grey";
  std::vector<Line> lines;
  std::shared_ptr<const Policy> policy;
};

class Gadget final : public NetworkModel<Gadget, 2, 0> {
 public:
  explicit Gadget(const GadgetParameters& p) : p_(p) {}
  static std::shared_ptr<const Model> build(const GadgetParameters& p, std::vector<Finding>& findings) {
    if (p.cells > 100) {
      findings.push_back({"cells", "too many", "use fewer"});
      return nullptr;
    }
    return std::make_shared<Gadget>(p);
  }
  static const ModelTable& describe() {
    static const ModelTable table = [] {
      using P = GadgetParameters;
      TableBuilder<Gadget, P> t("gadget", "for this test");
      t.equation("1", "I = V/R", "Ohm");
      t.scalar("resistance", &P::resistance, "ohm").required().above(0).at_most(10).meaning("m").source("s");
      t.scalar("limit", &P::limit, "V").at_least(-1).below(1);
      t.count("cells", &P::cells).at_least(1);
      t.count("spares", &P::spares);
      t.flag("damped", &P::damped);
      t.choice("mode", &P::mode, {"slow", "fast"});
      t.scalar("margin", &P::margin, "K").difference();
      t.curve("curve", &P::curve, {"time", unit_of<Duration>("s"), Limit{0, false}, Limit{9, true}},
              {"level", unit_of<double>("1"), std::nullopt, std::nullopt}, Interpolation::step, Outside::extend)
          .values_above(2)
          .values_at_most(3);
      t.map("map", &P::map, {"a", unit_of<Voltage>("V"), std::nullopt, std::nullopt},
            {"b", unit_of<Current>("A"), std::nullopt, std::nullopt},
            {"c", unit_of<Power>("W"), std::nullopt, std::nullopt})
          .values_at_least(0);
      t.text("colour", &P::colour).meaning("seen");
      FieldsBuilder<Line> columns("line", "");
      columns.scalar("length", &Line::length, "min").above(0);
      columns.text("note", &Line::note);
      t.rows("lines", &P::lines, columns.done().fields).required();
      t.asks_policy(&P::policy);
      t.pin("a", "one");
      t.pin("b", "other", PinRole::open_drain);
      t.unknown("inner", unit_of<Voltage>("V"), "between");
      t.state("charge", unit_of<Charge>("mAh"), 3600, "held");
      t.line_input("heat", LineKind::temperature, "felt");
      t.line_output("warmth", LineKind::temperature, "told", [](const Gadget&, const View& v) { return v.x[0] + 1; });
      t.line_output("shown", LineKind::reading, "several numbers", [](const Gadget& g, const View& v, double* to) {
        for (int i = 0; i < 4; ++i) to[i] = v.x[0] + i * g.p_.cells;
      });
      t.output("mode", unit_of<double>("1"), "of two", [](const Gadget&, const View& v) { return 1.0 * v.memory[0]; },
               {"slow", "fast"});
      t.output("drop", unit_of<Voltage>("V"), "across",
               [](const Gadget& g, const View& v) { return v.z[0] * g.p_.cells; });
      t.flow("heat", FlowKind::lost, "I2R");
      t.flow("count", FlowKind::counted, "charge");
      t.flow("turns", FlowKind::counted, "turns", unit_of<Rate>("1/s"));
      t.event(
           "high", "too high", [](const Gadget&, const View& v) { return v.z[0] - 1; },
           [](const Gadget&, const View&, Writable& w) { w.x[0] = 42; })
          .load_step()
          .role(EventRole::cut);
      t.alarm("tick", "the time has come", [](const Gadget&, const View&, Writable& w) {
         w.alarm[0] = never;
       }).calendar();
      t.event("low", "only marks the moment", [](const Gadget&, const View& v) { return -v.z[0]; });
      t.held_up("stuck", "holds the integration up", [](const Gadget& g, const View& v, Writable& w) {
         w.memory[0] = v.memory[0] + g.p_.cells;
       }).routine();
      t.alarm("second", "the other time", [](const Gadget&, const View&, Writable& w) { w.alarm[1] = 8; });
      t.stress("full load", "all at once", [](const Gadget& g, const View& v, std::int32_t* memory) {
        memory[0] = g.p_.cells;
        return v.z[0] > 0;
      });
      t.margin(
          "headroom", "to the end", [](const Gadget& g) { return 1.0 * g.p_.cells; },
          [](const Gadget& g, const View& v) { return v.z[0] - g.p_.cells; }, "plus", "end");
      t.limit(
           "torn", "too far", unit_of<Length>("mm"), [](const Gadget&, const View& v) { return v.z[0]; },
           [](const Gadget& g) { return 1.0 * g.p_.cells; },
           [](const Gadget& g, const View& v) { return g.p_.cells - 1 - v.z[0]; })
          .is_least()
          .reads("below {}")
          .remedy("a longer one");
      t.drives(2);
      t.holds(4);
      t.memories(1);
      t.refuses_by("drop");
      return t.done();
    }();
    return table;
  }
  const ModelTable& table() const override { return describe(); }
  void flows(const View&, double*) const override {}
  template <class T>
  void equations(const View&, const T* z, T* f) const {
    f[0] = (z[0] - z[1]) * (1 / p_.resistance.si());
    f[1] = -f[0];
  }

 private:
  GadgetParameters p_;
};

}  // namespace

TEST_CASE("table: fields reach the parameter struct and know its defaults") {
  const ModelTable& t = Gadget::describe();
  const std::shared_ptr<void> blank = t.new_parameters();
  auto& p = *static_cast<GadgetParameters*>(blank.get());
  const auto number = [&](const char* key) { return t.field(key)->get_number(blank.get()); };
  CHECK(number("resistance") == 5.0);
  CHECK(number("limit") == std::nullopt);
  CHECK(number("cells") == 3.0);
  CHECK(number("spares") == std::nullopt);
  CHECK(number("damped") == 1.0);
  CHECK(number("mode") == 1.0);

  t.field("resistance")->set_number(&p, 7.5);
  t.field("limit")->set_number(&p, 0.5);
  t.field("cells")->set_number(&p, 12);
  t.field("spares")->set_number(&p, 4);
  t.field("damped")->set_number(&p, 0);
  t.field("mode")->set_number(&p, 0);
  CHECK(p.resistance == Resistance{7.5});
  CHECK(*p.limit == Voltage{0.5});
  CHECK(p.cells == 12);
  CHECK(p.spares == 4);
  CHECK_FALSE(p.damped);
  CHECK(p.mode == Mode::slow);
  CHECK(number("limit") == 0.5);
  CHECK(number("spares") == 4.0);

  CHECK(t.field("curve")->get_curve(&p)->empty());
  t.field("curve")->set_curve(&p, Curve({0}, {2.5}, Interpolation::step, Outside::extend));
  CHECK(t.field("curve")->get_curve(&p)->y() == std::vector<double>{2.5});
  t.field("map")->set_map(&p, Map({0}, {0}, {{1}}));
  CHECK((*t.field("map")->get_map(&p))(0, 0) == 1);
  CHECK(*t.field("colour")->get_text(&p) == "grey");
  t.field("colour")->set_text(&p, "red");
  CHECK(p.colour == "red");
  CHECK(*t.field("colour")->get_text(&p) == "red");
  CHECK(t.field("nonsense") == nullptr);
}

TEST_CASE("table: a limit has its event, whose guard says when the part is beyond") {
  const ModelTable& t = Gadget::describe();
  REQUIRE(t.limits.size() == 1);
  const AbsoluteLimit& limit = t.limits[0];
  const Event& event = t.events.at(limit.event);
  CHECK(event.name == "torn");
  CHECK(event.meaning == "too far");
  CHECK(event.role == EventRole::damage);
  CHECK_FALSE(static_cast<bool>(event.reset));
  CHECK(limit.name == "torn");
  CHECK(limit.is_least);
  CHECK(limit.reads == "below {}");
  CHECK(limit.remedy == "a longer one");
  CHECK(limit.unit.text == "mm");
  const Gadget gadget(GadgetParameters{});
  const double z = 1.5;
  View v;
  v.z = &z;
  CHECK(limit.value(gadget, v) == 1.5);
  CHECK(limit.limit(gadget) == 3);
  CHECK(event.guard(gadget, v) == 0.5);
}

TEST_CASE("table: rows are appended with their own defaults, filled by their columns, and forgotten") {
  const Field& rows = *Gadget::describe().field("lines");
  CHECK(rows.kind == FieldKind::rows);
  CHECK(rows.required);
  REQUIRE(rows.columns.size() == 2);
  CHECK(rows.columns[0].unit.text == "min");
  CHECK(rows.columns[0].minimum->open);
  CHECK(rows.columns[1].kind == FieldKind::text);
  GadgetParameters p;
  CHECK(rows.get_rows(&p).empty());
  for (const double seconds : {60.0, 120.0}) {
    void* row = rows.add_row(&p);
    CHECK(rows.columns[0].get_number(row) == 7.0);
    CHECK(*rows.columns[1].get_text(row) == "none");
    rows.columns[0].set_number(row, seconds);
  }
  REQUIRE(p.lines.size() == 2);
  CHECK(p.lines[0].length == Duration{60.0});
  CHECK(p.lines[1].length == Duration{120.0});
  const std::vector<const void*> read = rows.get_rows(&p);
  REQUIRE(read.size() == 2);
  CHECK(read[1] == &p.lines[1]);
  rows.clear_rows(&p);
  CHECK(p.lines.empty());
}

TEST_CASE("table: the scenario's policy reaches the parameters of a part that asks for it") {
  const ModelTable& t = Gadget::describe();
  GadgetParameters p;
  const auto policy = std::make_shared<const Policy>();
  REQUIRE(static_cast<bool>(t.set_policy));
  t.set_policy(&p, policy);
  CHECK(p.policy.get() == policy.get());
  CHECK_FALSE(static_cast<bool>(FieldsBuilder<Line>("line", "").done().set_policy));
}

TEST_CASE("table: fields carry kind, unit, limits and texts") {
  const ModelTable& t = Gadget::describe();
  const Field& r = *t.field("resistance");
  CHECK(r.kind == FieldKind::scalar);
  CHECK(r.required);
  CHECK(r.meaning == "m");
  CHECK(r.source == "s");
  CHECK(r.unit.text == "ohm");
  CHECK(r.unit.dimension == std::array<int, 6>{2, 1, -3, -2, 0, 0});
  CHECK(r.minimum->value == 0);
  CHECK(r.minimum->open);
  CHECK(r.maximum->value == 10);
  CHECK_FALSE(r.maximum->open);
  const Field& limit = *t.field("limit");
  CHECK_FALSE(limit.required);
  CHECK_FALSE(limit.minimum->open);
  CHECK(limit.maximum->open);
  CHECK(t.field("cells")->kind == FieldKind::count);
  CHECK(t.field("damped")->kind == FieldKind::flag);
  CHECK(t.field("mode")->choices == std::vector<std::string>{"slow", "fast"});
  CHECK(t.field("margin")->unit.difference);
  CHECK_FALSE(r.unit.difference);
  const Field& curve = *t.field("curve");
  CHECK(curve.axes.size() == 2);
  CHECK(curve.axes[0].maximum->open);
  CHECK(curve.axes[1].minimum->open);
  CHECK(curve.axes[1].maximum->value == 3);
  CHECK(curve.interpolation == Interpolation::step);
  CHECK(curve.outside == Outside::extend);
  const Field& map = *t.field("map");
  CHECK(map.axes.size() == 3);
  CHECK(map.axes[2].minimum->value == 0);
  CHECK_FALSE(map.axes[2].minimum->open);
}

TEST_CASE("table: models are built, outputs and events reach them") {
  const ModelTable& t = Gadget::describe();
  GadgetParameters p;
  std::vector<Finding> findings;
  const std::shared_ptr<const Model> model = t.build(&p, findings);
  REQUIRE(static_cast<bool>(model));
  const double z[] = {2, 0};
  double x[] = {6};
  std::int32_t memory[] = {0};
  Tick alarm[] = {5, 5};
  const View view{z, x, memory, nullptr, nullptr};
  CHECK(t.outputs[1].value(*model, view) == 6.0);
  CHECK(t.outputs[1].labels.empty());
  CHECK(t.outputs[0].value(*model, view) == 0.0);
  CHECK(t.outputs[0].labels == std::vector<std::string>{"slow", "fast"});
  double warmth = 0;
  std::vector<double> shown(width(LineKind::reading));
  t.line_outputs[0].write(*model, view, &warmth);
  CHECK(warmth == 7.0);
  t.line_outputs[1].write(*model, view, shown.data());
  CHECK(shown == std::vector<double>{6, 9, 12, 15});
  CHECK(t.events[0].guard(*model, view) == 1.0);
  Writable w{x, memory, alarm, {}};
  t.events[0].reset(*model, view, w);
  CHECK(x[0] == 42.0);
  CHECK_FALSE(t.events[1].guard);
  t.events[1].reset(*model, view, w);
  CHECK(alarm[0] == never);
  CHECK(t.events[2].guard(*model, view) == -2.0);
  t.events[3].reset(*model, view, w);
  CHECK(memory[0] == 3);
  t.events[4].reset(*model, view, w);
  CHECK(alarm[1] == 8);
  CHECK(t.alarms == 2);
  CHECK(t.drives == 2);
  CHECK(t.holds == 4);
  CHECK(t.memories == 1);
  CHECK(t.pins[0].role == PinRole::power);
  CHECK(t.pins[1].role == PinRole::open_drain);
  CHECK(t.unknowns[0].name == "inner");
  CHECK(t.refusal_output == "drop");
  CHECK(t.flows[0].unit.text == "W");
  CHECK(t.flows[1].unit.text == "A");
  CHECK(t.flows[2].unit.text == "1/s");

  p.cells = 101;
  CHECK_FALSE(static_cast<bool>(t.build(&p, findings)));
  REQUIRE(findings.size() == 1);
  CHECK(findings[0].field == "cells");
}

TEST_CASE("table: an event has one cause, and only the flags it was given") {
  const std::vector<Event>& events = Gadget::describe().events;
  struct Expected {
    const char* name;
    bool guard, reset;
    int alarm;
    bool held_up, calendar, routine, load_step;
    EventRole role;
  };
  const Expected expected[] = {
      {"high", true, true, -1, false, false, false, true, EventRole::cut},
      {"tick", false, true, 0, false, true, false, false, EventRole::none},
      {"low", true, false, -1, false, false, false, false, EventRole::none},
      {"stuck", false, true, -1, true, false, true, false, EventRole::none},
      {"second", false, true, 1, false, false, false, false, EventRole::none},
      {"torn", true, false, -1, false, false, false, false, EventRole::damage},
  };
  REQUIRE(events.size() == std::size(expected));
  for (std::size_t i = 0; i < events.size(); ++i) {
    const Event& e = events[i];
    CAPTURE(e.name);
    CHECK(e.name == expected[i].name);
    CHECK_FALSE(e.meaning.empty());
    CHECK(static_cast<bool>(e.guard) == expected[i].guard);
    CHECK(static_cast<bool>(e.reset) == expected[i].reset);
    CHECK(e.alarm == expected[i].alarm);
    CHECK(e.held_up == expected[i].held_up);
    CHECK(e.calendar == expected[i].calendar);
    CHECK(e.routine == expected[i].routine);
    CHECK(e.load_step == expected[i].load_step);
    CHECK(e.role == expected[i].role);
  }
}

TEST_CASE("table: a stress arranges a memory and says whether it applies; a margin is a number of the solved part") {
  const ModelTable& t = Gadget::describe();
  std::vector<Finding> findings;
  GadgetParameters p;
  p.cells = 4;
  const std::shared_ptr<const Model> model = t.build(&p, findings);
  double z[] = {2, 0};
  const double x[] = {6};
  const std::int32_t memory[] = {0};
  const View view{z, x, memory, nullptr, nullptr};
  REQUIRE(t.stresses.size() == 1);
  REQUIRE(t.margins.size() == 1);
  CHECK(t.stresses[0].name == "full load");
  CHECK(t.stresses[0].meaning == "all at once");
  CHECK(t.margins[0].name == "headroom");
  CHECK(t.margins[0].meaning == "to the end");
  CHECK(t.margins[0].pin == "plus");
  CHECK(t.margins[0].label == "end");
  std::int32_t stressed[] = {0};
  CHECK(t.stresses[0].arrange(*model, view, stressed));
  CHECK(stressed[0] == 4);
  CHECK(memory[0] == 0);
  CHECK(t.margins[0].value(*model, view) == -2.0);
  CHECK(t.margins[0].threshold(*model) == 4.0);
  z[0] = -1;
  CHECK_FALSE(t.stresses[0].arrange(*model, view, stressed));
}

TEST_CASE("table: kinds have names") {
  for (const FieldKind k : {FieldKind::scalar, FieldKind::count, FieldKind::choice, FieldKind::flag, FieldKind::text,
                            FieldKind::curve, FieldKind::map, FieldKind::rows}) {
    CHECK_FALSE(name_of(k).empty());
  }
  for (const FlowKind k : {FlowKind::source, FlowKind::delivered, FlowKind::lost, FlowKind::stored, FlowKind::offered,
                           FlowKind::throughput, FlowKind::counted}) {
    CHECK_FALSE(name_of(k).empty());
  }
  for (const LineKind k : {LineKind::temperature, LineKind::logic, LineKind::reading, LineKind::bus}) {
    CHECK_FALSE(name_of(k).empty());
  }
  CHECK(name_of(LineKind::temperature) == "temperature");
}

TEST_CASE("moment: the time of day follows the site's offset, before 1970 too") {
  const Tick hour = 3600 * ticks_per_second;
  CHECK(Moment{0, 0}.time_of_day() == 0);
  CHECK(Moment{ticks_per_day + hour, 0}.time_of_day() == hour);
  CHECK(Moment{hour, -2 * hour}.time_of_day() == 23 * hour);
  CHECK(Moment{23 * hour, 2 * hour}.time_of_day() == hour);
  CHECK(Moment{-hour, 0}.time_of_day() == 23 * hour);
  CHECK(Moment{-ticks_per_day, 0}.time_of_day() == 0);
}
