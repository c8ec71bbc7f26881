// Averaged hiccup regime of a part that latches off and tries again.
//
// A part whose supply cannot carry its start cuts off, waits for its retry time, starts, cuts off again - thousands of
// times in a night. After more than `hiccup_limit` such cycles in a row the part rests for `hiccup_hold` and draws, as
// a constant current, what its last cycle drew on average; then it tries one real cycle.
//
//   (h1) T = time from one start to the next: up, cut off, waiting
//   (h2) Iavg = (1/T) integral of the part's own input current over that time
//   (h3) averaged cycles = integral of dt/T over the regime
//
// A cycle counts when the next start is due within `hiccup_window` of its own start; a part that stays up longer, or
// stays locked out longer, starts a new count. Definitions: averaging over a switching cycle (Erickson & Maksimovic,
// Fundamentals of Power Electronics, ch. 2); limits: class assumptions.
//
// A part derives its parameters from HiccupParameters, places the numbers below among its own, and offers
// `const Hiccup& hiccup() const` to the templates that fill its table.
#pragma once

#include <algorithm>

#include "models/model.hpp"
#include "models/table.hpp"

namespace overwinter {

struct HiccupParameters {
  int hiccup_limit = 8;
  Duration hiccup_window{600.0};
  Duration hiccup_hold{1800.0};
};

class Hiccup {
 public:
  enum State { cycle_time, cycle_charge, average_current, period, state_count };

  /// Where the numbers stand in the part's table: first of four states, one memory, two alarms.
  struct Place {
    int state, memory, steady_alarm, hold_alarm;
  };

  Hiccup(const HiccupParameters& p, Place at) : p_(p), at_(at) {}

  /// The count starts anew: the span begins, the part is switched off, or it was steady for longer than the window.
  void forget(Writable&) const;
  /// A start is due. False: it happens, and its cycle is counted. True: the averaged regime begins in its place.
  bool start_is_replaced(const View& before, Writable&) const;
  /// The hold is over: one real cycle.
  void try_again(Writable&) const;

  /// `averaged`: the part is in the regime; `input_current`: its own, without what passes through it to others.
  void rates(const View&, bool averaged, double input_current, double* dxdt) const;
  double average(const View& view) const { return std::max(0.0, view.x[at_.state + average_current]); }  // (h2)
  double cycles_per_second(const View&) const;                                                           // (h3)
  int cycles(const View& view) const { return view.memory[at_.memory]; }

 private:
  void begin_cycle(Writable&) const;

  HiccupParameters p_;
  Place at_;
};

/// Findings across fields: the retry time must fit into the window and the hold.
void check_hiccup(const HiccupParameters&, Duration retry, std::vector<Finding>&);

template <class M, class P>
void describe_hiccup_fields(TableBuilder<M, P>& t) {
  int P::*limit = &HiccupParameters::hiccup_limit;
  Duration P::*window = &HiccupParameters::hiccup_window;
  Duration P::*hold = &HiccupParameters::hiccup_hold;
  t.count("hiccup_limit", limit)
      .at_least(1)
      .at_most(1000)
      .meaning("failed starts in a row that are simulated one by one before they are averaged")
      .source("class assumption");
  t.scalar("hiccup_window", window, "min")
      .above(0)
      .at_most(86400)
      .meaning("a start counts as failed when the next one is due within this time")
      .source("class assumption");
  t.scalar("hiccup_hold", hold, "min")
      .above(0)
      .at_most(86400)
      .meaning("length of the averaged regime before a real start is tried again")
      .source("class assumption");
}

template <class M, class P>
void describe_hiccup_states(TableBuilder<M, P>& t) {
  t.equation("h1", "T = time from one start to the next", "definition");
  t.equation("h2", "Iavg = (1/T) integral of the part's own input current",
             "averaging over a switching cycle, Erickson & Maksimovic, ch. 2");
  t.equation("h3", "averaged cycles = integral of dt/T over the regime", "definition");
  t.state("cycle_time", unit_of<Duration>("s"), 1.0, "since the last start, while starts are counted");
  t.state("cycle_charge", unit_of<Charge>("mAh"), 1.0, "drawn from the input since the last start");
  t.state("average_current", unit_of<Current>("mA"), 1.0, "mean input current of the last failed cycle");
  t.state("period", unit_of<Duration>("s"), 1.0, "length of the last failed cycle");
}

/// Two flows, in this order: the power of the averaged cycles, and their number per second.
template <class M, class P>
void describe_hiccup_flows(TableBuilder<M, P>& t) {
  t.flow("hiccup", FlowKind::lost, "start attempts in the averaged regime");
  t.flow("hiccup_cycles", FlowKind::counted, "start attempts in the averaged regime", unit_of<Rate>("1/s"));
}

/// The alarm `steady_alarm`.
template <class M, class P>
void describe_hiccup_steady(TableBuilder<M, P>& t) {
  t.alarm("start attempts forgotten", "the last start is longer ago than hiccup_window",
          [](const M& m, const View&, Writable& w) { m.hiccup().forget(w); })
      .routine();
}

}  // namespace overwinter
