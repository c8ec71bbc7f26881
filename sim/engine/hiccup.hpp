// Hiccup: failed starts over and over. A stretch of them is simulated one by one, then a long time of the same is
// stepped over.
//
// A part that latches off, waits and tries again - a converter at its lockout, a protector, a controller at its
// brown-out threshold, or all three in a chain - can do so thousands of times in a day. The drift of a state or of an
// integrated flow over a stretch of failures, of length T, is the slope of the straight line through its values at the
// failures (least squares): that hardly depends on where in the cycles the stretch begins and ends. With d = T times
// the slope, over a much longer time D
//   (1) a state that decays by itself, dx/dt = -lambda x + N, changes by
//                                              d r (1 - exp(-lambda D))/(1 - r), r = exp(-lambda T)
//   (2) any other state and every integrated flow by
//                                              D ((1 - w) d/T + w d'/T'), a mean of the two mean rates
//   (3) w = (1 - g)/(1 - p), g = (1 - exp(p - 1))/(1 - p)
// p is the ratio of the rates after and before of that state of (2) whose rate changes most, usually the cell's charge:
// a rate that is linear in the state. p = 1 gives w = 1/2, the trapezoid; p < 0 a state that slides along a threshold,
// charged below and discharged above; above 1, w = 1/2.
// d' and T' are those of a stretch after, simulated from where d alone leads. Replacing a fast periodic motion by
// its mean rate is envelope following, or multirevolution (Petzold 1981, SIAM J. Numer. Anal. 18(3), 455-479, from
// memory); letting what is fast settle before the drift is measured is projective integration (Gear & Kevrekidis 2003,
// SIAM J. Sci. Comput. 24(4), 1091-1106, from memory); (1) to (3) are derived here. States that follow the network
// within a wake are left as they are. As (2) gives all flows the same weights, the ledger stays closed.
//
// A leap is kept where the events after it come about as often as before it, kind by kind, and do so still once (2) has
// been made up for; both are simulated unseen. Where they do not, less time is stepped over, then a longer stretch is
// tried. The next leap may be twice as long. After a leap half a stretch of failures settles before the next one
// begins. Inside of what is stepped over no weather changes, no calendar alarm comes due and no wake is completed.
// Failures more than ten minutes apart are no hiccup.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "models/table.hpp"
#include "sim/engine/context.hpp"

namespace overwinter {

/// How many failures make a stretch; twice as many after leaps that came to nothing, and from the least again after the
/// most.
inline constexpr std::size_t shortest_stretch = 24, longest_stretch = 192;

/// In a weather interval of which so many failures have been looked at, only the rates are compared.
inline constexpr std::size_t most_looked_at = 6000;

/// The present stretch of a context, up to its latest failure.
struct Stretch {
  Tick length = 0;                  ///< T
  Tick bound = never;               ///< the earliest alarm that does not move along
  std::vector<double> step;         ///< d: states and integrals
  std::vector<std::uint8_t> moves;  ///< per alarm: whether it moves along
  std::vector<CycleEvent> events;   ///< those that play a role
};

/// Failed starts that were stepped over.
struct Leap {
  /// What is taken to have happened, about so many times.
  struct Part {
    std::vector<CycleEvent> events;
    double times = 0;
  };
  Tick begin = 0, end = 0;
  Part first, then;       ///< as in the stretch before, as in the one after
  double energy = 0;      ///< J, delivered and lost in all
  double unbalanced = 0;  ///< J, the flows' balance less the change of the stores in closed form
};

/// What is to be known of the slow states.
struct StateTraits {
  std::vector<double> decay;  ///< lambda of (1), 1/s; 0 for (2)
  std::vector<double> scale;
  std::vector<std::uint8_t> follows;
};

/// Keeps an event for the stretch that it may be part of. True if it is a failure: a cut or a brown-out.
bool follow_failures(Context&, const CycleEvent&, const Event&);

/// Notes that failures have just happened, which may begin a stretch. True if it is to be looked at.
bool note_failure(Context&);

/// Begins a stretch at the present failure, and once more when so many have settled.
void begin_stretch(Context&, std::size_t failures_wanted, std::size_t settling);

/// After a leap that came to nothing.
void try_longer_stretch(Context&);

/// As it stands at a failure.
Stretch present_stretch(const Context&);

/// The context so much later, by (1) and (2) with d' = d and T' = T. The network is not solved.
Context step_over(const Context&, const Stretch&, Tick time, const StateTraits&);

/// The longest leap in which no state is led further astray than a sliding one may be, whatever comes after.
Tick sliding_time(const Stretch&, const StateTraits&);

/// Whether the events of two stretches come about as often, kind by kind.
bool events_alike(const Stretch&, const Stretch&);

/// Whether they are the same ones in the same order, in much the same time.
bool same_events(const Stretch&, const Stretch&);

/// Makes up for what (2) finds different in the stretch after, which was simulated from `ahead`, the result of
/// step_over(). w of (3); empty, and nothing done, where it is too different: in its rates, and if `strictly` in its
/// events.
std::optional<double> correct_step(Context& ahead, const Stretch& before, const Stretch& after, Tick time,
                                   const StateTraits&, bool strictly);

}  // namespace overwinter
