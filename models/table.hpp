// The one describing table of a model.
//
// A model states here, once, everything the rest of the program needs to know about it: parameters, pins, states,
// internal unknowns, line ports, outputs, energy flows, events and limits. The netlist reader and its messages, the
// JSON Schema, `explain`, state packing, event search, trace columns and reports are visitors over this table. All
// numbers in a table are SI; `unit` is only how people read and write them.
#pragma once

#include <array>
#include <cstdint>
#include <functional>
#include <limits>
#include <memory>
#include <optional>
#include <string>
#include <type_traits>
#include <utility>
#include <vector>

#include "models/curve.hpp"
#include "models/model.hpp"
#include "models/units.hpp"

namespace overwinter {

class Policy;

/// A unit as people write it, with the dimension that a value given in another unit must have.
struct Unit {
  std::string text;                ///< such as "mAh", "deg", "%", "degC"; "1" for a plain ratio
  std::array<int, 6> dimension{};  ///< exponents of m, kg, s, A, K, rad
  bool difference = false;         ///< a temperature difference: "5 K" and "5 degC" are both 5 kelvin wide
};

template <class Q>
Unit unit_of(std::string text) {
  Unit unit{std::move(text), {}, false};
  if constexpr (!std::is_arithmetic_v<Q>) {
    for (std::size_t i = 0; i < 6; ++i) unit.dimension[i] = Q::Dimension::exponents[i];
  }
  return unit;
}

enum class FieldKind { scalar, count, choice, flag, text, curve, map, rows };
std::string name_of(FieldKind);

/// One limit of a scalar's range, in SI.
struct Limit {
  double value = 0;
  bool open = false;  ///< the limit itself is not allowed
};

/// One axis of a curve or map.
struct Axis {
  std::string key;
  Unit unit;
  std::optional<Limit> minimum, maximum;
};

/// One parameter of a model.
struct Field {
  std::string key;
  FieldKind kind = FieldKind::scalar;
  bool required = false;  ///< no default: the scenario or its part class must give it
  std::string meaning;
  std::string source;                     ///< where the default or the quantity's definition is from
  Unit unit;                              // scalar
  std::optional<Limit> minimum, maximum;  // scalar, count
  std::vector<std::string> choices;       // choice
  bool of_the_law = false;                // flag, choice: says how the part is computed, not how it is made
  std::vector<Axis> axes;                 // curve: argument, value; map: two arguments, value
  Interpolation interpolation = Interpolation::linear;
  Outside outside = Outside::hold;

  // Access to the parameter inside the model's parameter struct. Exactly the pair that fits `kind` is set:
  // number for scalar, count, choice (index) and flag (0 or 1).
  std::function<void(void*, double)> set_number;
  std::function<std::optional<double>(const void*)> get_number;  ///< none: an optional parameter that is not given
  std::function<void(void*, Curve)> set_curve;
  std::function<const Curve*(const void*)> get_curve;
  std::function<void(void*, Map)> set_map;
  std::function<const Map*(const void*)> get_map;
  std::function<void(void*, std::string)> set_text;
  std::function<const std::string*(const void*)> get_text;
  // rows: a list of mappings, each with these columns.
  std::vector<Field> columns;
  std::function<void*(void*)> add_row;    ///< appends a row of defaults and returns it
  std::function<void(void*)> clear_rows;  ///< forgets the rows of an earlier layer
  std::function<std::vector<const void*>(const void*)> get_rows;
};

/// What a pin is to the lines of a scenario.
enum class PinRole {
  power,       ///< stands on a net
  open_drain,  ///< may drive a logic line by pulling it down
  gate,        ///< listens to the voltage of a logic line and draws next to nothing from it
};

struct Pin {
  std::string name, meaning;
  PinRole role = PinRole::power;
};

/// A state. A slow one is always integrated, a fast one only matters while View::transient holds.
struct State {
  std::string name;
  Unit unit;
  double scale;  ///< SI; the error tolerance of the integration is relative to it
  std::string meaning;
  bool follows = false;  ///< settles within a wake to what the network makes of it, and keeps no trend over many
  bool fast = false;     ///< may settle in microseconds in a transient, where it is integrated implicitly
};

/// An internal unknown of the network solve, with its own residual equation.
struct Unknown {
  std::string name;
  Unit unit;
  std::string meaning;
};

/// What a line between parts carries.
enum class LineKind {
  temperature,  ///< K
  logic,        ///< 0 or 1, from one push-pull output
  reading,      ///< what a monitor shows: see models/reading.hpp
  bus,          ///< what a controller last wrote to a clock: see models/bus.hpp
};
std::string name_of(LineKind);
/// Numbers that a line of this kind carries.
std::size_t width(LineKind);

struct LineOutput {
  std::string name;
  LineKind kind;
  std::string meaning;
  /// Writes width(kind) numbers, SI. Readings may use the solved network; all others states, memory and drive only.
  std::function<void(const Model&, const View&, double*)> write;
};

struct LineInput {
  std::string name;
  LineKind kind;
  std::string meaning;
  bool needed = false;  ///< without a line the part means nothing
};

/// Something worth tracing. SI.
struct Output {
  std::string name;
  Unit unit;
  std::string meaning;
  std::function<double(const Model&, const View&)> value;
  std::vector<std::string> labels;  ///< for a regime: what the integer value means
};

/// The role of a power term in the energy ledger. Over a part and its pins:
/// absorbed electrical power = delivered + lost + stored - source.
enum class FlowKind {
  source,      ///< enters the system here (light turned into current)
  delivered,   ///< the work the instrument exists for
  lost,        ///< turned into heat, by cause
  stored,      ///< goes into (positive) or comes out of a store
  offered,     ///< could have been harvested at the best operating point; not part of the balance
  throughput,  ///< absolute power through a store, what residuals are measured against; not part of the balance
  counted,     ///< charge integrated for the summary; not part of the balance
};
std::string name_of(FlowKind);

struct Flow {
  std::string name;
  FlowKind kind;
  Unit unit;  ///< W, or A for counted charge
  std::string meaning;
};

/// What an event means for the service of the instrument (sim/service) beyond its own part.
enum class EventRole {
  none,
  alarm_lost,      ///< the clock's alarm is lost, or was past when set: nothing wakes the instrument in time
  alarm_due,       ///< the clock's alarm came due: the instrument should wake
  power_came,      ///< the controller's supply rose from nothing
  wake_begins,     ///< the controller's supply became valid and it starts
  wake_completed,  ///< the controller reached the end of its last phase
  brown_out,       ///< the controller's supply fell below its threshold while it should have run
  power_gone,      ///< the controller's supply is gone
  limit,           ///< the part reached a limit of what it can give
  cut,             ///< the part stops feeding what hangs on it
  damage,          ///< the part goes beyond one of its absolute limits; see AbsoluteLimit
  restored,        ///< the part feeds again
  fault_begins,    ///< a fault that the user gave a part comes into force
  fault_over,      ///< it is over
};

/// A change of discrete memory. It happens at the first tick at which the guard is >= 0 (or the alarm is due); the
/// reset may write only its own part's states, memory and alarm. Without a reset the event only marks the moment.
struct Event {
  std::string name;
  std::string meaning;
  std::function<double(const Model&, const View&)> guard;  ///< empty for an event of an alarm of the part
  std::function<void(const Model&, const View&, Writable&)> reset;
  int alarm = -1;         ///< which of the part's alarms
  bool calendar = false;  ///< an alarm that the SystemC kernel keeps: hours apart, not a phase of a wake
  EventRole role = EventRole::none;
  bool routine = false;    ///< belongs to every wake: not written to the event list
  bool load_step = false;  ///< load rises here: the worst case of a switch-on is looked at
  bool held_up = false;    ///< neither guard nor alarm: due when many steps in a row were short, so that a part whose
                           ///< fast store holds the integration up can change its class
};

/// Beyond it a real part is damaged. An event of the table marks that the part goes beyond: of the same name, with
/// EventRole::damage and without a reset; the part is beyond while that event's guard is >= 0.
struct AbsoluteLimit {
  std::string name;       ///< the kind of damage, such as "below empty"
  std::string reads;      ///< what is said of the part, {} for the limit: "above its {} supply limit"
  std::string remedy;     ///< what keeps a part within it
  bool is_least = false;  ///< beyond is below it, and the worst value the lowest
  std::size_t event = 0;  ///< its place among the table's events
  Unit unit;              ///< of value and limit
  std::function<double(const Model&, const View&)> value;
  std::function<double(const Model&)> limit;
};

/// The worst a switch-on can ask of a part: a memory in which its equations draw the current limit's current.
struct Stress {
  std::string name, meaning;
  /// False where the part cannot be stressed now (it is off). Otherwise changes the copy of its memory.
  std::function<bool(const Model&, const View&, std::int32_t* memory)> arrange;
};

/// Distance of a quantity to the threshold that would end service. V; infinite where the threshold is not in force.
struct Margin {
  std::string name, meaning;
  std::function<double(const Model&, const View&)> value;
  std::function<double(const Model&)> threshold = {};  ///< V: what the margin is counted from
  /// The quantity is that pin's voltage. What the threshold is called.
  std::string pin = {}, label = {};
};

/// One of the ways of a condition.
struct Way {
  std::string name, meaning;
  /// Puts the part, as Model::start() leaves it, into this way. It may change nothing where the part cannot stand so.
  std::function<void(const Model&, Writable&)> arrange;
  /// Whether the part stands so. Lines and unsolved pin voltages may be looked at, `alarm` are the part's alarms.
  std::function<bool(const Model&, const View&, const Tick* alarm)> stands;
};

/// What about a part can be found in several ways when the instrument lies dead, such as a latch: at most one of them
/// stands at a time. The dead states of `revive` (sim/revive) are made of these.
struct Condition {
  std::string name, meaning;
  std::vector<Way> ways;  ///< the usual one first
};

/// An equation as printed by `explain`; the number stands at the code line that uses it.
struct Equation {
  std::string number, text, source;
};

/// A cross-field fault found while a model is built from its parameters.
struct Finding {
  std::string field;  ///< the key it is about
  std::string message, suggestion;
  std::optional<std::size_t> row = std::nullopt;  ///< of a field of rows, counted from 0
  std::string column = {};                        ///< of that row
};

/// What a fault says beside its kind and its time; which of it counts, and in what unit, say the fields of its form.
struct FaultValues {
  double by = 0;         ///< share that is lost
  double times = 1;      ///< factor
  Temperature colder{};  ///< a difference
  std::string phase;     ///< of a controller
  Tick until = never;    ///< when it is over, UTC
};

/// A kind of fault that parts of a model can be given.
struct FaultForm {
  std::string kind;           ///< such as "soiled"
  std::string meaning;        ///< what is so while it is in force
  std::vector<Field> fields;  ///< of FaultValues
  std::function<void(void* parameters, const FaultValues&)> apply;
  /// Why parts with these parameters cannot be given it; may be empty.
  std::function<std::optional<Finding>(const void* parameters, const FaultValues&)> check;
};

struct ModelTable {
  std::string name, purpose;
  std::vector<Equation> equations;
  std::vector<Field> fields;
  std::vector<Pin> pins;
  std::vector<State> states;
  std::vector<Unknown> unknowns;
  std::vector<LineInput> line_inputs;
  std::vector<LineOutput> line_outputs;
  std::vector<Output> outputs;
  std::vector<Flow> flows;
  std::vector<Event> events;
  std::vector<AbsoluteLimit> limits;
  std::vector<Stress> stresses;
  std::vector<Margin> margins;
  std::vector<Condition> conditions;
  /// Why the part's conditions cannot stand together as they do; empty where they can. May be null.
  std::function<std::string(const Model&, const View&, const Tick* alarm)> contradiction;
  /// Of a store that has just been switched on: the charge (C) that its net has still to give it. Empty for other
  /// parts.
  std::function<double(const Model&, const View&)> missing_charge;
  std::vector<FaultForm> faults;  ///< besides those that every part can be given
  int drives = 0;                 ///< numbers the part derives from the weather of an interval
  int holds = 0;                  ///< numbers of Model::hold
  int memories = 0;               ///< integers of discrete memory
  int alarms = 0;
  /// For a part that decides how much harvest is taken: the output whose label says why less than the offer is taken.
  std::string refusal_output;

  std::function<std::shared_ptr<void>()> new_parameters;  ///< all defaults
  /// The model, or findings and null.
  std::function<std::shared_ptr<const Model>(const void*, std::vector<Finding>&)> build;
  std::function<std::shared_ptr<void>(const void*)> copy_parameters;
  /// For a part that asks the scenario's wake policy.
  std::function<void(void*, std::shared_ptr<const Policy>)> set_policy;

  const Field* field(const std::string& key) const;
};

/// Chained after TableBuilder::event() and alarm().
class EventBuilder {
 public:
  explicit EventBuilder(Event& e) : e_(e) {}
  EventBuilder& role(EventRole r) {
    e_.role = r;
    return *this;
  }
  EventBuilder& routine() {
    e_.routine = true;
    return *this;
  }
  EventBuilder& load_step() {
    e_.load_step = true;
    return *this;
  }
  EventBuilder& calendar() {
    e_.calendar = true;
    return *this;
  }

 private:
  Event& e_;
};

/// Chained after TableBuilder::limit().
class LimitBuilder {
 public:
  explicit LimitBuilder(AbsoluteLimit& l) : l_(l) {}
  LimitBuilder& is_least() {
    l_.is_least = true;
    return *this;
  }
  LimitBuilder& reads(std::string text) {
    l_.reads = std::move(text);
    return *this;
  }
  LimitBuilder& remedy(std::string text) {
    l_.remedy = std::move(text);
    return *this;
  }

 private:
  AbsoluteLimit& l_;
};

/// Chained after TableBuilder::condition().
template <class M>
class ConditionBuilder {
 public:
  using Arrange = void (*)(const M&, Writable&);
  using Stands = bool (*)(const M&, const View&, const Tick* alarm);
  explicit ConditionBuilder(Condition& c) : c_(c) {}
  ConditionBuilder& way(std::string name, std::string meaning, Arrange arrange, Stands stands) {
    c_.ways.push_back({std::move(name), std::move(meaning),
                       [arrange](const Model& m, Writable& w) { arrange(static_cast<const M&>(m), w); },
                       [stands](const Model& m, const View& v, const Tick* alarm) {
                         return stands(static_cast<const M&>(m), v, alarm);
                       }});
    return *this;
  }

 private:
  Condition& c_;
};

/// Chained after TableBuilder::scalar() and its siblings.
class FieldBuilder {
 public:
  explicit FieldBuilder(Field& f) : f_(f) {}
  FieldBuilder& required() {
    f_.required = true;
    return *this;
  }
  FieldBuilder& above(double si) {
    f_.minimum = Limit{si, true};
    return *this;
  }
  FieldBuilder& at_least(double si) {
    f_.minimum = Limit{si, false};
    return *this;
  }
  FieldBuilder& below(double si) {
    f_.maximum = Limit{si, true};
    return *this;
  }
  FieldBuilder& at_most(double si) {
    f_.maximum = Limit{si, false};
    return *this;
  }
  FieldBuilder& difference() {
    f_.unit.difference = true;
    return *this;
  }
  FieldBuilder& of_the_law() {
    f_.of_the_law = true;
    return *this;
  }
  FieldBuilder& meaning(std::string text) {
    f_.meaning = std::move(text);
    return *this;
  }
  FieldBuilder& source(std::string text) {
    f_.source = std::move(text);
    return *this;
  }
  /// Limits of the values of a curve or map (its last axis).
  FieldBuilder& values_above(double si) {
    f_.axes.back().minimum = Limit{si, true};
    return *this;
  }
  FieldBuilder& values_at_least(double si) {
    f_.axes.back().minimum = Limit{si, false};
    return *this;
  }
  FieldBuilder& values_at_most(double si) {
    f_.axes.back().maximum = Limit{si, false};
    return *this;
  }

 private:
  Field& f_;
};

namespace detail {
template <class T>
double to_number(const T& value) {
  if constexpr (std::is_arithmetic_v<T> || std::is_enum_v<T>) {
    return static_cast<double>(value);
  } else {
    return value.si();
  }
}
template <class T>
T from_number(double si) {
  if constexpr (std::is_enum_v<T>) {
    return static_cast<T>(static_cast<int>(si));
  } else if constexpr (std::is_arithmetic_v<T>) {
    return static_cast<T>(si);
  } else {
    return T{si};
  }
}
}  // namespace detail

/// Fills a ModelTable for model M with parameter struct P. A parameter's default is its member initialiser in P.
template <class M, class P>
class TableBuilder {
 public:
  TableBuilder(std::string name, std::string purpose) {
    t_.name = std::move(name);
    t_.purpose = std::move(purpose);
    t_.fields.reserve(64);  // the builders hold references
    t_.events.reserve(64);
    t_.limits.reserve(16);
    t_.new_parameters = [] { return std::static_pointer_cast<void>(std::make_shared<P>()); };
    t_.build = [](const void* p, std::vector<Finding>& findings) -> std::shared_ptr<const Model> {
      return M::build(*static_cast<const P*>(p), findings);
    };
    t_.copy_parameters = [](const void* p) {
      return std::static_pointer_cast<void>(std::make_shared<P>(*static_cast<const P*>(p)));
    };
  }

  void equation(std::string number, std::string text, std::string source) {
    t_.equations.push_back({std::move(number), std::move(text), std::move(source)});
  }

  template <class Q>
  FieldBuilder scalar(std::string key, Q P::*member, std::string unit) {
    return number(std::move(key), member, FieldKind::scalar, unit_of<Q>(std::move(unit)));
  }
  /// A parameter that may be left out altogether.
  template <class Q>
  FieldBuilder scalar(std::string key, std::optional<Q> P::*member, std::string unit) {
    return optional_number(std::move(key), member, FieldKind::scalar, unit_of<Q>(std::move(unit)));
  }
  FieldBuilder count(std::string key, int P::*member) {
    return number(std::move(key), member, FieldKind::count, plain());
  }
  FieldBuilder count(std::string key, std::optional<int> P::*member) {
    return optional_number(std::move(key), member, FieldKind::count, plain());
  }
  FieldBuilder flag(std::string key, bool P::*member) { return number(std::move(key), member, FieldKind::flag, {}); }
  template <class E>
  FieldBuilder choice(std::string key, E P::*member, std::vector<std::string> choices) {
    FieldBuilder b = number(std::move(key), member, FieldKind::choice, {});
    t_.fields.back().choices = std::move(choices);
    return b;
  }
  FieldBuilder curve(std::string key, Curve P::*member, Axis argument, Axis value, Interpolation i, Outside o) {
    Field& f = add(std::move(key), FieldKind::curve);
    f.axes = {std::move(argument), std::move(value)};
    f.interpolation = i;
    f.outside = o;
    f.set_curve = [member](void* p, Curve c) { static_cast<P*>(p)->*member = std::move(c); };
    f.get_curve = [member](const void* p) { return &(static_cast<const P*>(p)->*member); };
    return FieldBuilder(f);
  }
  FieldBuilder map(std::string key, Map P::*member, Axis first, Axis second, Axis value) {
    Field& f = add(std::move(key), FieldKind::map);
    f.axes = {std::move(first), std::move(second), std::move(value)};
    f.set_map = [member](void* p, Map m) { static_cast<P*>(p)->*member = std::move(m); };
    f.get_map = [member](const void* p) { return &(static_cast<const P*>(p)->*member); };
    return FieldBuilder(f);
  }

  FieldBuilder text(std::string key, std::string P::*member) {
    Field& f = add(std::move(key), FieldKind::text);
    f.set_text = [member](void* p, std::string text) { static_cast<P*>(p)->*member = std::move(text); };
    f.get_text = [member](const void* p) { return &(static_cast<const P*>(p)->*member); };
    return FieldBuilder(f);
  }
  /// A list of mappings; `columns` describe the fields of Row.
  template <class Row>
  FieldBuilder rows(std::string key, std::vector<Row> P::*member, std::vector<Field> columns) {
    Field& f = add(std::move(key), FieldKind::rows);
    f.columns = std::move(columns);
    f.add_row = [member](void* p) -> void* { return &(static_cast<P*>(p)->*member).emplace_back(); };
    f.clear_rows = [member](void* p) { (static_cast<P*>(p)->*member).clear(); };
    f.get_rows = [member](const void* p) {
      std::vector<const void*> rows;
      for (const Row& row : static_cast<const P*>(p)->*member) rows.push_back(&row);
      return rows;
    };
    return FieldBuilder(f);
  }

  void pin(std::string name, std::string meaning, PinRole role = PinRole::power) {
    t_.pins.push_back({std::move(name), std::move(meaning), role});
  }
  void state(std::string name, Unit unit, double scale, std::string meaning) {
    t_.states.push_back({std::move(name), std::move(unit), scale, std::move(meaning)});
  }
  /// One that follows, see State.
  void following_state(std::string name, Unit unit, double scale, std::string meaning) {
    t_.states.push_back({std::move(name), std::move(unit), scale, std::move(meaning), true});
  }
  void fast_state(std::string name, Unit unit, double scale, std::string meaning) {
    t_.states.push_back({std::move(name), std::move(unit), scale, std::move(meaning), true, true});
  }
  void unknown(std::string name, Unit unit, std::string meaning) {
    t_.unknowns.push_back({std::move(name), std::move(unit), std::move(meaning)});
  }
  void line_input(std::string name, LineKind kind, std::string meaning, bool needed = false) {
    t_.line_inputs.push_back({std::move(name), kind, std::move(meaning), needed});
  }
  /// `write` is (model, view) -> double, or (model, view, double* numbers) for a line of several numbers.
  template <class Write>
  void line_output(std::string name, LineKind kind, std::string meaning, Write write) {
    t_.line_outputs.push_back(
        {std::move(name), kind, std::move(meaning), [write](const Model& model, const View& v, double* to) {
           const M& m = static_cast<const M&>(model);
           if constexpr (std::is_invocable_v<Write, const M&, const View&>) {
             *to = write(m, v);
           } else {
             write(m, v, to);
           }
         }});
  }
  void output(std::string name, Unit unit, std::string meaning, double (*value)(const M&, const View&),
              std::vector<std::string> labels = {}) {
    t_.outputs.push_back({std::move(name), std::move(unit), std::move(meaning), erase(value), std::move(labels)});
  }
  void flow(std::string name, FlowKind kind, std::string meaning) {
    flow(std::move(name), kind, std::move(meaning),
         kind == FlowKind::counted ? unit_of<Current>("A") : unit_of<Power>("W"));
  }
  void flow(std::string name, FlowKind kind, std::string meaning, Unit unit) {
    t_.flows.push_back({std::move(name), kind, std::move(unit), std::move(meaning)});
  }
  using Reset = void (*)(const M&, const View&, Writable&);
  EventBuilder event(std::string name, std::string meaning, double (*guard)(const M&, const View&),
                     Reset reset = nullptr) {
    Event& e = add_event(std::move(name), std::move(meaning), reset);
    e.guard = erase(guard);
    return EventBuilder(e);
  }
  /// The part is damaged while `beyond` is >= 0; `value` against `bound` say how far.
  LimitBuilder limit(std::string name, std::string meaning, Unit unit, double (*value)(const M&, const View&),
                     double (*bound)(const M&), double (*beyond)(const M&, const View&)) {
    AbsoluteLimit& l = t_.limits.emplace_back();
    l.name = name;
    l.event = t_.events.size();
    l.unit = std::move(unit);
    l.value = erase(value);
    l.limit = [bound](const Model& m) { return bound(static_cast<const M&>(m)); };
    event(std::move(name), std::move(meaning), beyond).role(EventRole::damage);
    return LimitBuilder(l);
  }
  /// The next of the part's alarms.
  EventBuilder alarm(std::string name, std::string meaning, Reset reset) {
    Event& e = add_event(std::move(name), std::move(meaning), reset);
    e.alarm = t_.alarms++;
    return EventBuilder(e);
  }
  EventBuilder held_up(std::string name, std::string meaning, Reset reset) {
    Event& e = add_event(std::move(name), std::move(meaning), reset);
    e.held_up = true;
    return EventBuilder(e);
  }
  void stress(std::string name, std::string meaning, bool (*arrange)(const M&, const View&, std::int32_t*)) {
    t_.stresses.push_back(
        {std::move(name), std::move(meaning), [arrange](const Model& m, const View& v, std::int32_t* memory) {
           return arrange(static_cast<const M&>(m), v, memory);
         }});
  }
  void margin(std::string name, std::string meaning, double (*threshold)(const M&),
              double (*value)(const M&, const View&), std::string pin, std::string label) {
    t_.margins.push_back({std::move(name), std::move(meaning), erase(value),
                          [threshold](const Model& m) { return threshold(static_cast<const M&>(m)); }, std::move(pin),
                          std::move(label)});
  }
  void missing_charge(double (*value)(const M&, const View&)) { t_.missing_charge = erase(value); }
  /// A kind of fault: `apply` changes the parameters, `check` says why they do not bear it.
  void fault(std::string kind, std::string meaning, void (*apply)(P&, const FaultValues&),
             std::vector<Field> fields = {}, std::optional<Finding> (*check)(const P&, const FaultValues&) = nullptr) {
    FaultForm form{std::move(kind), std::move(meaning), std::move(fields), {}, {}};
    form.apply = [apply](void* p, const FaultValues& values) { apply(*static_cast<P*>(p), values); };
    if (check) {
      form.check = [check](const void* p, const FaultValues& values) {
        return check(*static_cast<const P*>(p), values);
      };
    }
    t_.faults.push_back(std::move(form));
  }
  ConditionBuilder<M> condition(std::string name, std::string meaning) {
    t_.conditions.push_back({std::move(name), std::move(meaning), {}});
    return ConditionBuilder<M>(t_.conditions.back());
  }
  void contradiction(std::string (*why)(const M&, const View&, const Tick* alarm)) {
    t_.contradiction = [why](const Model& m, const View& v, const Tick* alarm) {
      return why(static_cast<const M&>(m), v, alarm);
    };
  }
  void asks_policy(std::shared_ptr<const Policy> P::*member) {
    t_.set_policy = [member](void* p, std::shared_ptr<const Policy> policy) {
      static_cast<P*>(p)->*member = std::move(policy);
    };
  }
  void drives(int count) { t_.drives = count; }
  void holds(int count) { t_.holds = count; }
  void memories(int count) { t_.memories = count; }
  void refuses_by(std::string output) { t_.refusal_output = std::move(output); }
  ModelTable done() { return std::move(t_); }

 private:
  Event& add_event(std::string name, std::string meaning, Reset reset) {
    t_.events.push_back({});
    t_.events.back().name = std::move(name);
    t_.events.back().meaning = std::move(meaning);
    t_.events.back().reset = erase_reset(reset);
    return t_.events.back();
  }
  Field& add(std::string key, FieldKind kind) {
    t_.fields.push_back({});
    t_.fields.back().key = std::move(key);
    t_.fields.back().kind = kind;
    return t_.fields.back();
  }
  template <class Q>
  FieldBuilder number(std::string key, Q P::*member, FieldKind kind, Unit unit) {
    Field& f = add(std::move(key), kind);
    f.unit = std::move(unit);
    f.set_number = [member](void* p, double si) { static_cast<P*>(p)->*member = detail::from_number<Q>(si); };
    f.get_number = [member](const void* p) -> std::optional<double> {
      return detail::to_number(static_cast<const P*>(p)->*member);
    };
    return FieldBuilder(f);
  }
  template <class Q>
  FieldBuilder optional_number(std::string key, std::optional<Q> P::*member, FieldKind kind, Unit unit) {
    Field& f = add(std::move(key), kind);
    f.unit = std::move(unit);
    f.set_number = [member](void* p, double si) { static_cast<P*>(p)->*member = detail::from_number<Q>(si); };
    f.get_number = [member](const void* p) -> std::optional<double> {
      const auto& value = static_cast<const P*>(p)->*member;
      if (!value) return std::nullopt;
      return detail::to_number(*value);
    };
    return FieldBuilder(f);
  }
  static Unit plain() { return {"1", {}, false}; }
  static std::function<double(const Model&, const View&)> erase(double (*f)(const M&, const View&)) {
    return [f](const Model& m, const View& v) { return f(static_cast<const M&>(m), v); };
  }
  static std::function<void(const Model&, const View&, Writable&)> erase_reset(Reset f) {
    if (!f) return nullptr;
    return [f](const Model& m, const View& v, Writable& w) { f(static_cast<const M&>(m), v, w); };
  }

  ModelTable t_;
};

/// For parameter structs that belong to no model: a site, a row of a list.
template <class P>
struct NoModel {
  static std::shared_ptr<const Model> build(const P&, std::vector<Finding>&) { return nullptr; }
};
template <class P>
using FieldsBuilder = TableBuilder<NoModel<P>, P>;

}  // namespace overwinter
