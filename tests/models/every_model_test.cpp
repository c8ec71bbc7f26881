// What must hold for every model of the catalogue, whatever its physics: at many random operating points, repeatably.
#include <doctest/doctest.h>

#include <cmath>
#include <optional>
#include <set>

#include "models/catalogue.hpp"
#include "tests/models/support/operating_points.hpp"
#include "tests/models/support/unknowns.hpp"

using namespace overwinter;
using namespace overwinter::test;

namespace {

constexpr int points = 2000;

/// Calls `test(part, example)` at random operating points of every example.
template <class Test>
void at_random_points(std::uint64_t seed, Test&& test) {
  for (const Example& example : examples()) {
    CAPTURE(example.label);
    Random random(seed);
    for (int i = 0; i < points; ++i) {
      Alone part = somewhere(example, random);
      test(part, example);
    }
  }
}

/// What two ways to the same number may differ by.
struct Tolerance {
  double relative, absolute;
  double of(double value) const { return relative * std::abs(value) + absolute; }
};

/// A derivative by central differences with one Richardson extrapolation; none where the two step widths differ by more
/// than ten tolerances, that is across a kink.
template <class F>
std::optional<double> derivative(F&& f, double step, Tolerance tolerance) {
  const auto central = [&](double h) { return (f(h) - f(-h)) / (2 * h); };
  const double wide = central(step), narrow = central(step / 2);
  if (std::abs(wide - narrow) > 10 * tolerance.of(narrow)) return std::nullopt;
  return narrow + (narrow - wide) / 3;
}

double terminal_power(const Alone& part) {
  const std::vector<double> f = part.currents();
  double sum = 0;
  for (std::size_t i = 0; i < part.table.pins.size(); ++i) sum += part.z[i] * f[i];
  return sum;
}

/// Size of the numbers that the terminal power is made of, for its rounding error.
double power_scale(const Alone& part) {
  const std::vector<double> f = part.currents();
  double sum = 0;
  for (std::size_t i = 0; i < part.table.pins.size(); ++i) sum += std::abs(part.z[i] * f[i]);
  return sum;
}

double sum_of(const Alone& part, FlowKind kind) {
  const std::vector<double> flow = part.flows();
  double sum = 0;
  for (std::size_t i = 0; i < flow.size(); ++i) {
    if (part.table.flows[i].kind == kind) sum += flow[i];
  }
  return sum;
}

}  // namespace

TEST_CASE("every model has an example here") {
  std::set<std::string> shown;
  for (const Example& e : examples()) {
    CAPTURE(e.label);
    const ModelTable& t = e.model->table();
    shown.insert(t.name);
    CHECK(e.pins.size() == t.pins.size());
    CHECK(e.unknowns.size() == t.unknowns.size());
    CHECK(e.states.size() == t.states.size());
    CHECK(e.lines.size() == Alone(e.model).line.size());
    CHECK(static_cast<int>(e.memory.size()) == t.memories);
  }
  for (const ModelTable* t : catalogue()) CHECK_MESSAGE(shown.count(t->name) == 1, t->name);
}

TEST_CASE("every model: the Jacobian equals central differences") {
  int kinks = 0, entries = 0;
  at_random_points(1, [&](Alone& part, const Example&) {
    const std::vector<double> f = part.currents(), jacobian = part.jacobian(), z = part.z;
    std::vector<double> again(f.size()), ignored(jacobian.size());
    part.model->linearise(part.view(), again.data(), ignored.data());
    for (std::size_t i = 0; i < f.size(); ++i) CHECK(std::abs(again[i] - f[i]) <= 1e-12 * std::abs(f[i]));
    for (std::size_t row = 0; row < part.width(); ++row) {
      for (std::size_t column = 0; column < part.width(); ++column) {
        const Tolerance tolerance{1e-6, 2e-9 * (1 + std::abs(f[row]))};
        const std::optional<double> slope = derivative(
            [&](double h) {
              part.z = z;
              part.z[column] += h;
              return part.currents()[row];
            },
            4e-6, tolerance);
        part.z = z;
        ++entries;
        if (!slope) {
          ++kinks;
          continue;
        }
        CAPTURE(row);
        CAPTURE(column);
        CHECK(std::abs(jacobian[row * part.width() + column] - *slope) <= tolerance.of(*slope));
      }
    }
  });
  CHECK(kinks < entries / 50);
}

TEST_CASE("every model: what flows in flows out") {
  at_random_points(2, [](Alone& part, const Example&) {
    const std::vector<double> f = part.currents();
    double sum = 0, size = 0;
    for (std::size_t i = 0; i < part.table.pins.size(); ++i) {
      sum += f[i];
      size += std::abs(f[i]);
    }
    CHECK(std::abs(sum) <= 1e-15 * size);
  });
}

TEST_CASE("every model: shifting all pins against ground changes nothing") {
  at_random_points(3, [](Alone& part, const Example&) {
    if (!solve_unknowns(part)) return;
    const std::vector<double> before = part.currents(), jacobian = part.jacobian();
    for (std::size_t i = 0; i < part.table.pins.size(); ++i) part.z[i] += 0.25;
    const std::vector<double> after = part.currents();
    for (std::size_t row = 0; row < part.width(); ++row) {
      double sensitivity = std::abs(before[row]);
      for (std::size_t column = 0; column < part.width(); ++column)
        sensitivity += std::abs(jacobian[row * part.width() + column]);
      CHECK(std::abs(after[row] - before[row]) <= 1e-13 * (1 + sensitivity));
    }
  });
}

TEST_CASE("every model: absorbed power = delivered + lost + stored - source") {
  int unsolved = 0;
  at_random_points(4, [&](Alone& part, const Example&) {
    if (!solve_unknowns(part)) {
      ++unsolved;
      return;
    }
    const double booked = sum_of(part, FlowKind::delivered) + sum_of(part, FlowKind::lost) +
                          sum_of(part, FlowKind::stored) - sum_of(part, FlowKind::source);
    double size = power_scale(part);
    for (const double flow : part.flows()) size += std::abs(flow);
    CHECK(std::abs(terminal_power(part) - booked) <= 1e-13 * size);
  });
  CHECK(unsolved == 0);
}

TEST_CASE("every model: the stored flows are the rate of change of the stored energy") {
  int kinks = 0, tested = 0;
  at_random_points(5, [&](Alone& part, const Example&) {
    if (part.x.empty() || !solve_unknowns(part)) return;
    const std::vector<double> rates = part.rates(), x = part.x;
    const double flow = sum_of(part, FlowKind::stored), zero = part.model->stored_energy(part.view());
    const Tolerance tolerance{1e-7, 1e-8};
    const std::optional<double> change = derivative(
        [&](double seconds) {
          for (std::size_t i = 0; i < x.size(); ++i) part.x[i] = x[i] + seconds * rates[i];
          const double energy = part.model->stored_energy(part.view()) - zero;
          part.x = x;
          return energy;
        },
        0.02, tolerance);
    ++tested;
    if (!change) {
      ++kinks;
      return;
    }
    CHECK(std::abs(flow - *change) <= tolerance.of(flow));
  });
  CHECK(tested >= points);
  CHECK(kinks < tested / 20);
}

TEST_CASE("every model: decay rates are rates, and those of a cell are what its rates lose with the state") {
  int cells = 0;
  at_random_points(10, [&](Alone& part, const Example& example) {
    if (!solve_unknowns(part)) return;
    std::vector<double> decay(part.x.size(), 0.0);
    part.model->decay(part.view(), decay.data());
    for (const double rate : decay) {
      CHECK(std::isfinite(rate));
      CHECK(rate >= 0);
    }
    if (part.table.name == "capacitor") {
      for (std::size_t i = 1; i < decay.size(); ++i) CHECK(decay[i] == 0);
    }
    if (example.label != "cell") return;
    ++cells;
    // At fixed currents: the network's answer to a state is not the state's own decay. A current at fixed terminals is
    // left over from a difference of voltages, so that these move with the pairs.
    const std::vector<double> x = part.x, z = part.z, rates = part.rates();
    const double current = part.currents()[0];
    for (const std::size_t i : {std::size_t{Cell::pair_1}, std::size_t{Cell::pair_2}}) {
      const double step = 1e-3;
      part.x[i] += step;
      part.z[0] += step;
      REQUIRE(part.currents()[0] == doctest::Approx(current).epsilon(1e-9));
      CHECK((rates[i] - part.rates()[i]) / step == doctest::Approx(decay[i]).epsilon(1e-6));
      part.x = x;
      part.z = z;
    }
    CHECK(decay[Cell::charge] == 0);
  });
  CHECK(cells >= points);
}

TEST_CASE("a cell's temperature decays as its heat capacity and thermal resistance say") {
  // At rest nothing heats: C dT/dt = -(T - Tair)/R.
  Alone cell = build<Cell>(plain_cell(1, 0.1, 0.05, 0.05));
  cell.start(air(10));
  cell.z[0] = 3.7;
  const double before = cell.rates()[Cell::temperature];
  cell.x[Cell::temperature] += 2;
  std::vector<double> decay(cell.x.size(), 0.0);
  cell.model->decay(cell.view(), decay.data());
  CHECK((before - cell.rates()[Cell::temperature]) / 2 == doctest::Approx(decay[Cell::temperature]).epsilon(1e-9));
  CHECK(decay[Cell::temperature] == doctest::Approx(1 / (45.0 * 20.0)));
}

TEST_CASE("every passive model never delivers net power, and its losses are losses") {
  at_random_points(6, [](Alone& part, const Example& example) {
    if (!example.passive || !solve_unknowns(part)) return;
    CHECK(terminal_power(part) >= -1e-13 * power_scale(part));
    const std::vector<double> flow = part.flows();
    for (std::size_t i = 0; i < flow.size(); ++i) {
      CAPTURE(part.table.flows[i].name);
      CHECK(flow[i] >= -1e-13 * power_scale(part));
    }
  });
}

TEST_CASE("every model writes exactly what its table announces") {
  static constexpr double untouched = 4.75e299;
  at_random_points(7, [](Alone& part, const Example&) {
    solve_unknowns(part);
    const auto writes = [&](std::size_t announced, auto call) {
      std::vector<double> room(announced + 3, untouched);
      call(room.data());
      for (std::size_t i = 0; i < announced; ++i) {
        CHECK(room[i] != untouched);
        CHECK(std::isfinite(room[i]));
      }
      for (std::size_t i = announced; i < room.size(); ++i) CHECK(room[i] == untouched);
    };
    const Ambient ambient = air(-3);
    writes(part.table.flows.size(), [&](double* to) { part.model->flows(part.view(), to); });
    writes(part.table.states.size(), [&](double* to) { part.model->rates(part.view(), to); });
    writes(part.width(), [&](double* to) { part.model->evaluate(part.view(), to); });
    writes(static_cast<std::size_t>(part.table.drives), [&](double* to) { part.model->drive(ambient, to); });
    std::vector<double> f(part.width());
    writes(part.width() * part.width(), [&](double* to) { part.model->linearise(part.view(), f.data(), to); });

    static constexpr std::int32_t blank = -77;
    std::vector<std::int32_t> memory(part.memory.size() + 2, blank);
    static constexpr Tick unset = 123;
    std::vector<Tick> alarms(static_cast<std::size_t>(part.table.alarms) + 2, unset);
    writes(part.table.states.size(), [&](double* to) {
      Writable w{to, memory.data(), part.table.alarms > 0 ? alarms.data() : nullptr, {}};
      part.model->start(ambient, w);
    });
    for (std::size_t i = 0; i < memory.size(); ++i) CHECK((memory[i] == blank) == (i >= part.memory.size()));
    for (std::size_t i = 0; i < alarms.size(); ++i)
      CHECK((alarms[i] == unset) == (i >= static_cast<std::size_t>(part.table.alarms)));
  });
}

TEST_CASE("every model: outputs, lines and guards are numbers, regimes have labels, resets keep to their memory") {
  at_random_points(8, [](Alone& part, const Example& example) {
    solve_unknowns(part);
    for (const Output& output : part.table.outputs) {
      const double value = output.value(*part.model, part.view());
      CAPTURE(output.name);
      CHECK(std::isfinite(value));
      if (!output.labels.empty()) {
        CHECK(value == std::floor(value));
        CHECK(value >= 0);
        CHECK(value < static_cast<double>(output.labels.size()));
      }
    }
    for (const LineOutput& line : part.table.line_outputs) {
      for (const double number : part.line_output(line.name)) CHECK(std::isfinite(number));
    }
    for (const Margin& margin : part.table.margins) {
      CAPTURE(margin.name);
      const double before = margin.value(*part.model, part.view());
      CHECK_FALSE(std::isnan(before));
      CHECK(margin.threshold(*part.model) > 0);
      CHECK_FALSE(margin.label.empty());
      const auto& pins = part.table.pins;
      const auto pin = std::find_if(pins.begin(), pins.end(), [&](const Pin& p) { return p.name == margin.pin; });
      REQUIRE(pin != pins.end());
      if (std::isinf(before)) continue;
      double& volt = part.z[static_cast<std::size_t>(pin - pins.begin())];
      const double was = volt;
      volt += 0.25;
      CHECK(margin.value(*part.model, part.view()) == doctest::Approx(before + 0.25));
      volt = was;
    }
    for (const Event& event : part.table.events) {
      CAPTURE(event.name);
      if (event.guard) CHECK(std::isfinite(event.guard(*part.model, part.view())));
    }
    const auto keeps_to_its_memory = [&](const Alone& p) {
      for (std::size_t i = 0; i < p.memory.size(); ++i) {
        CHECK(p.memory[i] >= 0);
        CHECK(p.memory[i] <= example.memory[i]);
      }
    };
    for (int round = 0; round < 4; ++round) part.round();
    keeps_to_its_memory(part);
    for (const Event& event : part.table.events) {
      if (!event.held_up) continue;
      CAPTURE(event.name);
      Alone after = part;
      after.fire(event.name);
      keeps_to_its_memory(after);
    }
  });
}

TEST_CASE("every model: events that reset something come to rest at a standing operating point") {
  at_random_points(9, [](Alone& part, const Example&) {
    solve_unknowns(part);
    const auto comes_to_rest = [](Alone& p) {
      for (int round = 0; round < 4; ++round) p.round();
      for (const std::string& name : p.due()) {
        CAPTURE(name);
        CHECK_FALSE(static_cast<bool>(p.event(name).reset));
      }
    };
    comes_to_rest(part);
    for (const Event& event : part.table.events) {
      if (!event.held_up) continue;
      CAPTURE(event.name);
      Alone after = part;
      after.fire(event.name);
      comes_to_rest(after);
    }
  });
}

TEST_CASE(
    "every model: every alarm has its event, and every event one cause: a guard, an alarm or a held-up integration") {
  for (const ModelTable* t : catalogue()) {
    CAPTURE(t->name);
    std::set<int> alarms;
    for (const Event& e : t->events) {
      CAPTURE(e.name);
      CHECK(static_cast<int>(static_cast<bool>(e.guard)) + (e.alarm >= 0) + e.held_up == 1);
      if (!e.guard) CHECK(static_cast<bool>(e.reset));
      if (e.calendar) CHECK(e.alarm >= 0);
      if (e.alarm >= 0) alarms.insert(e.alarm);
    }
    CHECK(static_cast<int>(alarms.size()) == t->alarms);
    if (!alarms.empty()) CHECK(*alarms.rbegin() == t->alarms - 1);
    if (!t->refusal_output.empty()) {
      bool labelled = false;
      for (const Output& o : t->outputs) labelled = labelled || (o.name == t->refusal_output && !o.labels.empty());
      CHECK(labelled);
    }
  }
}

TEST_CASE("every model: every event of damage is of a limit, which says what it is, and only marks the moment") {
  for (const ModelTable* t : catalogue()) {
    CAPTURE(t->name);
    std::size_t events = 0;
    for (const Event& e : t->events) events += e.role == EventRole::damage;
    CHECK(events == t->limits.size());
    for (const AbsoluteLimit& limit : t->limits) {
      CAPTURE(limit.name);
      const Event& event = t->events.at(limit.event);
      CHECK(event.name == limit.name);
      CHECK(event.role == EventRole::damage);
      CHECK_FALSE(static_cast<bool>(event.reset));
      CHECK_FALSE(event.routine);
      CHECK_FALSE(limit.reads.empty());
      CHECK_FALSE(limit.remedy.empty());
      CHECK_FALSE(limit.unit.text.empty());
      CHECK(static_cast<bool>(limit.value));
      CHECK(static_cast<bool>(limit.limit));
    }
  }
}

TEST_CASE("every model: everything in its table says what it means and where it is from") {
  const auto means = [](const auto& list) {
    for (const auto& item : list) {
      CAPTURE(item.name);
      CHECK_FALSE(item.name.empty());
      CHECK_FALSE(item.meaning.empty());
    }
  };
  for (const ModelTable* t : catalogue()) {
    CAPTURE(t->name);
    CHECK_FALSE(t->purpose.empty());
    CHECK_FALSE(t->equations.empty());
    for (const Equation& e : t->equations) {
      CAPTURE(e.number);
      CHECK_FALSE(e.text.empty());
      CHECK_FALSE(e.source.empty());
    }
    means(t->pins);
    means(t->states);
    means(t->unknowns);
    means(t->line_inputs);
    means(t->line_outputs);
    means(t->outputs);
    means(t->flows);
    means(t->events);
    means(t->margins);
    means(t->stresses);
    const std::shared_ptr<void> defaults = t->new_parameters();
    for (const Field& f : t->fields) {
      CAPTURE(f.key);
      CHECK_FALSE(f.meaning.empty());
      if (f.kind == FieldKind::scalar || f.kind == FieldKind::count) CHECK_FALSE(f.unit.text.empty());
      if (f.kind == FieldKind::choice) CHECK(f.choices.size() > 1);
      if (f.kind == FieldKind::curve) CHECK(f.axes.size() == 2);
      if (f.kind == FieldKind::map) CHECK(f.axes.size() == 3);
      if (!f.get_number) continue;
      const std::optional<double> value = f.get_number(defaults.get());
      if (!value || f.required) continue;
      if (f.minimum) CHECK((f.minimum->open ? *value > f.minimum->value : *value >= f.minimum->value));
      if (f.maximum) CHECK((f.maximum->open ? *value < f.maximum->value : *value <= f.maximum->value));
      if (f.kind == FieldKind::choice) CHECK(*value < static_cast<double>(f.choices.size()));
    }
    for (const State& s : t->states) CHECK(s.scale > 0);
  }
}

TEST_CASE("every model: what it states as a default has a source, unless it is the absence of something") {
  // Plain starting values, not physical constants: their meaning says all there is to say.
  const std::set<std::string> choices_of_the_user{"load.kind", "cell.charge", "panel.transmittance"};
  for (const ModelTable* t : catalogue()) {
    const std::shared_ptr<void> defaults = t->new_parameters();
    for (const Field& f : t->fields) {
      if (!f.get_number || f.required) continue;
      const std::optional<double> value = f.get_number(defaults.get());
      if (!value || *value == 0 || choices_of_the_user.count(t->name + "." + f.key)) continue;
      CHECK_MESSAGE(!f.source.empty(), t->name, ".", f.key);
    }
  }
}
