// The whole instrument over thirty January days, a wake every half hour, against a second program written from the
// pseudocode in sim/engine/simulator.hpp: SUNDIALS CVODE (Hindmarsh et al. 2005, ACM Trans. Math. Softw. 31(3),
// 363-396) integrates the slow states by Adams' formulas with fixed-point iteration, restarted at every alarm, event
// and change of weather. Start, alarms, guards (bisection over ticks on CVODE's own interpolant) and rounds are its
// own; models, tables and the network solve at one instant are the product's. When short steps hold up an integration
// is a matter of its method, so that these instants are told.
#include <cvodes/cvodes.h>
#include <doctest/doctest.h>
#include <fmt/format.h>
#include <nvector/nvector_serial.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

const std::string whole_chain = std::string(OVERWINTER_SOURCE) + "/tests/acceptance/data/whole-chain.yaml";
constexpr Tick hour = 3600 * ticks_per_second;
constexpr Tick millisecond = ticks_per_second / 1000;
constexpr Tick marker_pause = ticks_per_second;  // before an event without a reset can happen again

/// The state of charge of the diagram's cell.
class ChargeGauge {
 public:
  explicit ChargeGauge(const Diagram& diagram) {
    for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
      if (diagram.parts()[p].table->name != "cell") continue;
      part_ = p;
      model_ = diagram.parts()[p].model.get();
      for (const Output& o : diagram.parts()[p].table->outputs) {
        if (o.name == "state_of_charge") output_ = &o;
      }
    }
    REQUIRE(output_ != nullptr);
  }
  double operator()(const Evaluator& system) const { return output_->value(*model_, system.view(part_)); }

 private:
  std::size_t part_ = 0;
  const Model* model_ = nullptr;
  const Output* output_ = nullptr;
};

struct Occurrence {
  Tick time = 0;
  std::string name;   ///< part and event
  double charge = 0;  ///< of the cell, 0...1
  EventRole role = EventRole::none;
};

struct Record {
  std::vector<Occurrence> events;
  std::vector<double> hourly;  ///< state of charge at the end of every hour
  std::vector<Tick> held_up;   ///< when short steps held the integration up
};

class ProductRun final : public RunWatcher {
 public:
  ProductRun(const test::Replayed& bench, Tick until, double tolerance) : charge_(bench.diagram) {
    SimulatorOptions options;
    options.tolerance = tolerance;
    options.sample_every = hour;
    options.step_over_hiccups = false;
    Simulator simulator(bench.diagram, bench.weather, options, this);
    Context c = simulator.start();
    simulator.advance(c, until);
    counts = simulator.steps();
  }
  void on_sample(Tick, const double*, Evaluator& system) override { record.hourly.push_back(charge_(system)); }
  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    if (h.event && h.event->held_up && (record.held_up.empty() || record.held_up.back() < h.time)) {
      record.held_up.push_back(h.time);
    }
    record.events.push_back({h.time, h.part_name() + " \"" + h.event_name() + "\"", charge_(system),
                             h.event ? h.event->role : EventRole::none});
  }

  Record record;
  StepCounts counts;

 private:
  ChargeGauge charge_;
};

/// Throws where the oracle itself cannot go on.
void must(bool fine, Tick now, const char* what) {
  if (!fine) throw std::runtime_error(iso_time(now, 9) + ": " + what);
}

class Oracle {
 public:
  /// `tolerance`: of each state's scale.
  Oracle(const test::Replayed& bench, double tolerance)
      : diagram_(bench.diagram),
        weather_(bench.weather),
        system_(diagram_),
        solver_(make_dense_solver(diagram_)),
        charge_(diagram_) {
    const auto n = static_cast<sunindextype>(diagram_.states());
    REQUIRE(SUNContext_Create(nullptr, &sun_) == 0);
    y_ = N_VNew_Serial(n, sun_);
    tolerance_ = N_VNew_Serial(n, sun_);
    sunindextype i = 0;
    for (const DiagramPart& part : diagram_.parts()) {
      for (const State& state : part.table->states) NV_Ith_S(tolerance_, i++) = tolerance * state.scale;
    }
    cvode_ = CVodeCreate(CV_ADAMS, sun_);
    fixed_point_ = SUNNonlinSol_FixedPoint(y_, 0, sun_);
    REQUIRE(CVodeInit(cvode_, &Oracle::right_hand_side, 0.0, y_) == CV_SUCCESS);
    REQUIRE(CVodeSVtolerances(cvode_, 0.0, tolerance_) == CV_SUCCESS);
    REQUIRE(CVodeSetUserData(cvode_, this) == CV_SUCCESS);
    REQUIRE(CVodeSetNonlinearSolver(cvode_, fixed_point_) == CV_SUCCESS);
    REQUIRE(CVodeSetErrFile(cvode_, nullptr) == CV_SUCCESS);
    begin();
  }
  ~Oracle() {
    CVodeFree(&cvode_);
    SUNNonlinSolFree(fixed_point_);
    N_VDestroy(y_);
    N_VDestroy(tolerance_);
    SUNContext_Free(&sun_);
  }
  Oracle(const Oracle&) = delete;
  Oracle& operator=(const Oracle&) = delete;

  void run(Tick until, const std::vector<Tick>& held_up) {
    auto next_held_up = held_up.begin();
    while (c_.now < until) {
      const Tick interval_end = weather_.intervals()[c_.interval].end;
      Tick stop = std::min(until, interval_end);
      if (next_held_up != held_up.end()) stop = std::min(stop, *next_held_up);
      for (const Tick alarm : c_.alarm) stop = std::min(stop, std::max(alarm, c_.now + 1));
      move(stop);
      if (c_.now == interval_end && c_.interval + 1 < weather_.intervals().size()) enter(c_.interval + 1);
      held_up_ = next_held_up != held_up.end() && c_.now == *next_held_up;
      if (held_up_) ++next_held_up;
      rounds(true);
      if ((c_.now - weather_.begin()) % hour == 0) record.hourly.push_back(charge_(system_));
    }
  }

  Record record;
  std::size_t pieces = 0, steps = 0, evaluations = 0;

 private:
  void begin() {
    c_.now = weather_.begin();
    c_.state.assign(diagram_.states(), 0.0);
    c_.network.assign(diagram_.unknowns(), 0.0);
    c_.memory.assign(diagram_.memories(), 0);
    c_.drive.assign(diagram_.drives(), 0.0);
    c_.alarm.assign(diagram_.alarms(), never);
    c_.armed.assign(diagram_.events(), 1);
    c_.marked.assign(diagram_.events(), c_.now - marker_pause);
    enter(0);
    for (const DiagramPart& part : diagram_.parts()) {
      Writable own = writable(part);
      part.model->start(weather_.intervals().front().ambient, own);
    }
    look_at(c_);
    for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
      const DiagramPart& part = diagram_.parts()[p];
      std::vector<double> z(part.width(), 0.0);
      part.model->guess(system_.view(p), z.data());
      for (std::size_t i = 0; i < part.pins(); ++i) {
        if (part.nets[i] < 0) continue;
        double& volts = c_.network[static_cast<std::size_t>(part.nets[i])];
        volts = std::max(volts, z[i]);
      }
    }
    rounds(false);
  }

  void enter(std::size_t interval) {
    c_.interval = interval;
    for (const DiagramPart& part : diagram_.parts()) {
      part.model->drive(weather_.intervals()[interval].ambient, c_.drive.data() + part.drive);
    }
  }

  Writable writable(const DiagramPart& part) {
    const auto offset = static_cast<Tick>(std::llround(weather_.site().utc_offset.si() * ticks_per_second));
    return {c_.state.data() + part.state, c_.memory.data() + part.memory, c_.alarm.data() + part.alarm,
            Moment{c_.now, offset}};
  }

  void look_at(const Context& c) {
    system_.set_inputs(c.state.data(), c.memory.data(), c.drive.data());
    system_.set_solution(c.network.data());
  }

  /// Solves the network at states x with the present memory and drive. False where the branch is not there.
  bool solve(const double* x) {
    ++evaluations;
    start_ = c_.network;
    here_.assign(x, x + diagram_.states());
    constexpr double anywhere = std::numeric_limits<double>::infinity();
    if (!solver_->track(system_, c_.network, c_, solved_, here_, anywhere).converged) {
      c_.network = start_;
      return false;
    }
    solved_ = here_;
    return true;
  }

  static int right_hand_side(realtype, N_Vector y, N_Vector ydot, void* self) {
    auto& o = *static_cast<Oracle*>(self);
    if (!o.solve(N_VGetArrayPointer(y))) return 1;
    o.system_.rates(N_VGetArrayPointer(ydot));
    return 0;
  }

  template <class Visit>
  void each_event(Visit&& visit) const {
    for (std::size_t p = 0; p < diagram_.parts().size(); ++p) {
      const DiagramPart& part = diagram_.parts()[p];
      for (std::size_t e = 0; e < part.table->events.size(); ++e) visit(p, part.table->events[e], part.event + e);
    }
  }

  double guard(std::size_t p, const Event& event) const {
    return event.guard(*diagram_.parts()[p].model, system_.view(p));
  }

  bool any_due() const {
    bool due = false;
    each_event([&](std::size_t p, const Event& e, std::size_t index) {
      due = due || (e.guard && c_.armed[index] && guard(p, e) >= 0);
    });
    return due;
  }

  void arm(const Event& event, std::size_t index, Tick now) {
    if (event.reset || now - c_.marked[index] >= marker_pause) c_.armed[index] = 1;
  }

  /// CVODE's interpolant at a tick, with its network solved.
  void interpolate(Tick origin, Tick tick) {
    must(CVodeGetDky(cvode_, static_cast<double>(tick - origin) / ticks_per_second, 0, y_) == CV_SUCCESS, tick,
         "no interpolant");
    must(solve(N_VGetArrayPointer(y_)), tick, "no branch on the interpolant");
  }

  /// To `stop`, or to the first tick before it at which an armed guard holds.
  void move(Tick stop) {
    ++pieces;
    const Tick origin = c_.now;
    const double length = static_cast<double>(stop - origin) / ticks_per_second;
    std::copy(c_.state.begin(), c_.state.end(), N_VGetArrayPointer(y_));
    must(CVodeReInit(cvode_, 0.0, y_) == CV_SUCCESS && CVodeSetStopTime(cvode_, length) == CV_SUCCESS, origin,
         "no restart");
    for (realtype before = 0, reached = 0; before < length; before = reached) {
      must(CVode(cvode_, length, y_, &reached, CV_ONE_STEP) >= 0, origin, "CVODE gives up");
      ++steps;
      must(solve(N_VGetArrayPointer(y_)), origin, "no branch at the end of a step");
      if (any_due()) {
        Tick low = origin + static_cast<Tick>(std::floor(before * ticks_per_second));
        Tick high = std::min(stop, origin + static_cast<Tick>(std::ceil(reached * ticks_per_second)));
        while (high - low > 1) {
          const Tick middle = low + (high - low) / 2;
          interpolate(origin, middle);
          (any_due() ? high : low) = middle;
        }
        const realtype at = std::min(static_cast<realtype>(high - origin) / ticks_per_second, reached);
        must(CVodeGetDky(cvode_, at, 0, y_) == CV_SUCCESS, high, "no interpolant");
        keep(high);
        return;
      }
      const Tick passed = origin + static_cast<Tick>(std::floor(reached * ticks_per_second));
      each_event([&](std::size_t p, const Event& e, std::size_t index) {
        if (e.guard && guard(p, e) < 0) arm(e, index, passed);
      });
    }
    keep(stop);
  }

  void keep(Tick now) {
    std::copy_n(N_VGetArrayPointer(y_), c_.state.size(), c_.state.begin());
    c_.now = now;
  }

  void rounds(bool recorded) {
    for (int round = 0; round <= 100; ++round) {
      system_.set_inputs(c_.state.data(), c_.memory.data(), c_.drive.data());
      const SolveOutcome outcome = solver_->solve(system_, c_.network, c_.branch_sign);
      must(outcome.converged, c_.now, "no operating point");
      solved_ = c_.state;
      c_.branch_sign = outcome.sign;
      struct Due {
        std::size_t part, index;
        const Event* event;
      };
      std::vector<Due> due;
      each_event([&](std::size_t p, const Event& e, std::size_t index) {
        if (e.held_up) {
          if (held_up_ && round == 0) due.push_back({p, index, &e});
        } else if (!e.guard) {
          if (pending(p, e) <= c_.now) due.push_back({p, index, &e});
        } else if (guard(p, e) < 0) {
          arm(e, index, c_.now);
        } else if (c_.armed[index]) {
          due.push_back({p, index, &e});
        }
      });
      if (due.empty()) return;
      const Context before = c_;
      look_at(before);
      for (const Due& d : due) {
        if (d.event->alarm >= 0 && pending(d.part, *d.event) > c_.now) continue;
        const DiagramPart& part = diagram_.parts()[d.part];
        c_.armed[d.index] = 0;
        c_.marked[d.index] = c_.now;
        if (recorded) record.events.push_back({c_.now, part.name + " \"" + d.event->name + "\"", charge_(system_)});
        if (!d.event->reset) continue;
        Writable own = writable(part);
        d.event->reset(*part.model, system_.view(d.part), own);
      }
    }
    must(false, c_.now, "rounds without end");
  }

  Tick pending(std::size_t p, const Event& e) const {
    return c_.alarm[diagram_.parts()[p].alarm + static_cast<std::size_t>(e.alarm)];
  }

  const Diagram& diagram_;
  const Weather& weather_;
  Evaluator system_;
  std::unique_ptr<NetworkSolver> solver_;
  ChargeGauge charge_;
  Context c_;
  bool held_up_ = false;                       ///< in the coming rounds
  std::vector<double> start_, here_, solved_;  ///< network before a solve; states of the present and of the last one
  SUNContext sun_ = nullptr;
  N_Vector y_ = nullptr, tolerance_ = nullptr;
  void* cvode_ = nullptr;
  SUNNonlinearSolver fixed_point_ = nullptr;
};

struct Difference {
  double charge = 0;       ///< largest, hourly and at every event
  Tick time = 0;           ///< largest of an event
  Tick service_time = 0;   ///< largest of an event with a role in the service, "power gone" left out
  std::size_t beyond = 0;  ///< events more than a millisecond apart
  std::string text;
};

/// Requires the same events in the same order, those of one instant included.
Difference compare(const Record& ours, const Record& theirs) {
  Difference d;
  REQUIRE(ours.hourly.size() == theirs.hourly.size());
  for (std::size_t i = 0; i < ours.hourly.size(); ++i) {
    d.charge = std::max(d.charge, std::abs(ours.hourly[i] - theirs.hourly[i]));
  }
  std::map<std::string, Tick> worst_of;
  for (std::size_t i = 0; i < std::min(ours.events.size(), theirs.events.size()); ++i) {
    const Occurrence &a = ours.events[i], &b = theirs.events[i];
    INFO("event ", i, ": ", iso_time(a.time, 9), " ", a.name, ", CVODE ", iso_time(b.time, 9), " ", b.name);
    if (a.name != b.name) FAIL("another event");
    const Tick apart = std::abs(a.time - b.time);
    d.charge = std::max(d.charge, std::abs(a.charge - b.charge));
    d.time = std::max(d.time, apart);
    if (a.role != EventRole::none && a.role != EventRole::power_gone) d.service_time = std::max(d.service_time, apart);
    d.beyond += apart > millisecond ? 1 : 0;
    Tick& worst = worst_of[a.name];
    worst = std::max(worst, apart);
  }
  CHECK(ours.events.size() == theirs.events.size());
  d.text = fmt::format(
      "{} events of {} kinds, state of charge {:.1e} apart, {} events more than 1 ms apart, those of the service at "
      "most "
      "{:.3f} ms; worst:",
      ours.events.size(), worst_of.size(), d.charge, d.beyond, static_cast<double>(d.service_time) / 1e6);
  for (const auto& [name, apart] : worst_of) {
    if (apart >= millisecond / 10) d.text += fmt::format(" {} {:.2f} ms", name, static_cast<double>(apart) / 1e6);
  }
  return d;
}

}  // namespace

// Limits: 1 ms and 1e-5 are what a replay is to be trusted with. The run ends in a reset loop of some hundred starts;
// were it longer, what is left of each would add up in the next. Every start is simulated.
TEST_CASE("thirty days of the whole instrument, into its brown-outs, agree with CVODE in every event and in charge") {
  const test::Replayed bench(whole_chain);
  const Tick end = bench.weather.end();
  REQUIRE(end - bench.weather.begin() == 30 * ticks_per_day);
  const ProductRun product(bench, end, SimulatorOptions{}.tolerance);
  Oracle oracle(bench, 1e-8);
  oracle.run(end, product.record.held_up);
  const Record& theirs = oracle.record;
  MESSAGE(fmt::format("CVODE: {} pieces, {} steps, {} network solves; product: {} steps; charge from {:.3f} to {:.3f}",
                      oracle.pieces, oracle.steps, oracle.evaluations, product.counts.accepted,
                      theirs.events.front().charge, theirs.events.back().charge));
  std::map<std::string, std::size_t> count;
  for (const Occurrence& o : theirs.events) ++count[o.name];
  CHECK(count["logger \"wake completed\""] > 1200);
  CHECK(count["logger \"brown-out\""] > 0);
  CHECK(count["boost \"lockout\""] > 0);

  const Difference d = compare(product.record, theirs);
  MESSAGE(d.text);
  CHECK(theirs.hourly.size() == 30 * 24);
  CHECK(d.charge > 0);
  CHECK(d.charge < 1e-5);
  CHECK(d.service_time <= millisecond);
  CHECK(d.beyond * 1000 < theirs.events.size());
  CHECK(d.time <= 2 * millisecond);
}

TEST_CASE("with a tight tolerance every event of ten days is within 1 ms of CVODE's") {
  const test::Replayed bench(whole_chain);
  const Tick end = bench.weather.begin() + 10 * ticks_per_day;
  const ProductRun product(bench, end, 1e-11);
  Oracle oracle(bench, 1e-10);
  oracle.run(end, product.record.held_up);
  const Difference d = compare(product.record, oracle.record);
  MESSAGE(d.text);
  CHECK(oracle.record.events.size() > 10 * 47 * 10);
  CHECK(d.charge < 1e-8);
  CHECK(d.time <= millisecond);
}
