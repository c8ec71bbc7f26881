// Hiccup: failures over and over. Some are simulated one by one, and they stand for the many in between.
//
// A part that latches off, waits and tries again - a converter at its lockout, a protector, a controller at its
// brown-out threshold, or all three in a chain - can do so thousands of times in a day. From one failure to the next is
// a turn, of length T. What it does to a slow state or to an integrated flow is d. Replacing a fast motion by what it
// does in the mean is averaging; simulating some of its periods for all of them is envelope following, or
// multirevolution (Petzold 1981, SIAM J. Numer. Anal. 18(3), 455-479, from memory), and letting a simulated piece
// stand for a longer time is projective integration (Gear & Kevrekidis 2003, SIAM J. Sci. Comput. 24(4), 1091-1106,
// from memory). Two ways, the formulas derived here:
//
// The turn repeats: the last k failures had, each for itself, the same events as the k before, in as much time. It is
// leapt over much at once. Over a time D
//   (1) a state that decays by itself, dx/dt = -lambda x + N, changes by
//                                              d r (1 - exp(-lambda D))/(1 - r), r = exp(-lambda T)
//   (2) any other state and every integrated flow by
//                                              D (d/T + d'/T')/2
// d' and T' are those of the turn after, simulated unseen from where d alone leads, once it has settled for a turn. The
// leap is kept where the turns there go on as before, event by event, and its rates are much the same; the run goes on
// from the end of those turns. Where they do not, less time is stepped over. The next leap may be longer.
//
// It does not: two or more kinds of turn take each other's place, as the state slides along a threshold, charged below
// and discharged above. No few turns tell in which proportion. There each single turn stands for n,
//   (3) x changes by n d, time by n T
// and the kinds keep the proportion that they have: which one comes next is found out by simulating it, only that the
// state moves about the threshold n times as far. n is the same for kinds that alternate: the least that any of the
// latest turns allows, where n d is to be small, and what decays is to stay near where its drive holds it,
//   (4) x -> X + (x - X) exp(-lambda n T), X the mean over the latest turns of x + d/(1 - exp(-lambda T)), each by its
//   T
// and at most twice the last.
//
// States that follow the network within a wake are left as they are. As (2) and (3) give all flows the same weights,
// the ledger stays closed. Inside of what is stepped over no weather changes, no calendar alarm comes due and no wake
// is completed. Failures more than ten minutes apart are no hiccup.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "models/table.hpp"
#include "sim/engine/context.hpp"

namespace overwinter {

/// Failures of the longest turn that can repeat.
inline constexpr std::size_t longest_turn = 8;

/// One turn or a few.
struct Stretch {
  Tick length = 0;                  ///< T
  Tick bound = never;               ///< the earliest alarm that does not move along
  std::vector<double> step;         ///< d: states and integrals
  std::vector<std::uint8_t> moves;  ///< per alarm: whether it moves along
  std::vector<CycleEvent> events;   ///< those that play a role
  std::size_t happened = 0;         ///< all events
};

/// Failures that were stepped over.
struct Leap {
  /// What is taken to have happened, about so many times.
  struct Part {
    std::vector<CycleEvent> events;
    double times = 0;
  };
  Tick begin = 0, end = 0;
  Part first, then;       ///< as in the turn before, as in the one after
  double energy = 0;      ///< J, delivered and lost in all
  double unbalanced = 0;  ///< J, the flows' balance less the change of the stores in closed form
};

/// What is to be known of the slow states.
struct StateTraits {
  std::vector<double> decay;  ///< lambda of (1), 1/s; 0 for (2)
  std::vector<double> scale;
  std::vector<std::uint8_t> follows;
};

/// Keeps an event for the turn that it may be part of. True if it is a failure: a cut or a brown-out.
bool follow_failures(Context&, const CycleEvent&, const Event&);

/// Notes that failures have just happened. True if there are turns that may be stepped over.
bool note_failure(Context&, const StateTraits&);

/// Begins anew with the present failure.
void begin_turns(Context&);

/// How many turns repeat together, in as many of the latest as the context wants; 0 for none.
std::size_t repeating(const Context&);

/// After a leap that came to nothing.
void want_more_turns(Context&);

/// The latest turns together. As it stands at a failure.
Stretch latest_turns(const Context&, std::size_t count);

/// Whether the turns of `c`, which was stepped over, are those that repeated before.
bool goes_on(const Context& c, const Context& before, std::size_t repeating);

/// In how long the states that follow come no further than a trifle, as they did in the latest turns.
Tick longest_leap(const Context&, std::size_t repeating);

/// The context so much later, by (1) and (2) with d' = d and T' = T. The network is not solved.
Context step_over(const Context&, const Stretch&, Tick time, const StateTraits&);

/// Makes up for what (2) finds different in the turn after: in `behind`, to which it was simulated from `ahead`, the
/// result of step_over(). False, and nothing done, where it is too different.
bool correct_step(Context& behind, const Context& ahead, const Stretch& before, const Stretch& after, Tick time,
                  const StateTraits&);

/// After a leap, at the end of the turns behind it: they are known to go on, so many together.
void go_on(Context& behind, std::size_t repeating);

/// For how many the latest turn may stand besides itself, ending before `end`; below 1 for none. Not a whole number.
double share_of(const Context&, Tick end, const StateTraits&);

/// The context after so many more of the latest turn, by (3) and (4); `kinds`: all the latest, whose alarms move along.
/// The network is not solved.
Context spread(const Context&, double turns, const Stretch& kinds, const StateTraits&);

}  // namespace overwinter
