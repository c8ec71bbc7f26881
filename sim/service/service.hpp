// What the instrument achieved, told from the events of its parts by their roles.
//
//   wake             an alarm was due and the controller got power, or the controller started without an alarm (which
//                    then answers none); completed: it reached the end of its last phase. A start between a completed
//                    wake and the next alarm, as by a supply that runs down past its thresholds, is asked for by
//                    nothing: it is a wake only if it is completed, and no brown-out if it is not
//   missed           due, not completed
//   failed start     power came, and until it went (or the span ended, more than a minute later) the supply never
//                    became valid
//   brown-out        the controller's supply fell below its threshold while it should have run, or an alarm came due
//                    and no wake had begun a minute later (converter or protector had cut the supply, it was not
//                    valid, or the controller was powered already so that nothing started), or the clock lost its
//                    alarm or was given one that is past. One episode lasts until the next completed wake; further
//                    attempts are counted apart. Its cause is the first link of the chain: a fault that the user gave a
//                    part and that is in force, else whatever stopped feeding the controller first, else what it ended
//                    in. A part that is switched off on purpose has not stopped feeding, see asks()
//   gap              between the ends of completed wakes; the span's start and end count as ends
//   downtime         from a due alarm to the start of the next completed wake, zero if on time
//   needs human      no completed wake within N sunny days after the brown-out; undecided if the span ends first
//   day, week        a day of the site's standard time; any 7 x 24 h
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "sim/engine/simulator.hpp"
#include "sim/service/feeding.hpp"
#include "sim/service/sunny_days.hpp"

namespace overwinter {

struct ChainLink {
  Tick time = 0;
  std::string part, event;
  bool is_fault = false;  ///< one that the user gave, in force at the time
};

enum class Outcome { recovered, needs_human, undecided };
std::string name_of(Outcome);

struct BrownOut {
  Tick begin = 0, end = 0;       ///< end: recovered, or the span's
  std::vector<ChainLink> chain;  ///< first link first; never empty
  std::size_t attempts = 0;      ///< further starts that failed or browned out before the episode ended
  std::optional<Tick> recovered;
  Outcome outcome = Outcome::undecided;
  std::optional<Tick> needs_human_since;
  std::string cause_id;    ///< the mechanism behind the first link (sim/mechanisms); empty until that is known
  std::string cause_text;  ///< that mechanism at work there, in plain words; empty where it is not told of this one
  std::vector<std::size_t> sunny_days;  ///< of the span, from 0: those that passed after it, until it was decided
  std::string cause() const {
    const ChainLink& first = chain.front();
    return first.part.empty() ? first.event : first.part + ": " + first.event;
  }
};

struct Gap {
  Tick begin = 0, end = 0;
  bool open = false;  ///< the span ended first
  Tick length() const { return end - begin; }
};

/// The numbers of a span. Times in ticks.
struct ServiceRecord {
  std::size_t due = 0, wakes = 0, completed = 0, missed = 0, failed_starts = 0;
  Gap longest_gap;
  std::optional<std::size_t> worst_day_wakes, worst_week_wakes;  ///< completed; none in a shorter span
  Tick worst_week_begin = 0;
  Tick downtime = 0;
  std::vector<BrownOut> brownouts;
  std::vector<Tick> completed_at;
};

/// Follows a run.
class Service final : public RunWatcher {
 public:
  /// `sunny_days`: N of "needs human".
  Service(const Diagram&, Tick begin, Tick end, SunnyDays, int sunny_days);

  void on_step(Tick, const double*, Evaluator&) override;
  void on_happening(const Happening&, const double*, Evaluator&) override;
  void on_leap(const Leap&) override;
  /// The brown-outs so far; one may still turn out to be none while no event of the controller has been told.
  const std::vector<BrownOut>& brownouts() const { return record_.brownouts; }
  bool controller_told() const { return controller_told_; }
  bool in_brownout() const { return in_brownout_; }
  /// Whether anything asks that part to work: not the controller between a completed wake and the next alarm, and not
  /// what hangs behind a switch that is off, unless the controller hangs there too and should run.
  bool asks(const DiagramPart&, const Evaluator&) const;
  /// The parts that do not feed now, each since when.
  const std::vector<ChainLink>& cuts() const { return cuts_; }
  /// The run is cut short: it ends there, and not with its span.
  void end_at(Tick end) { end_ = end; }
  /// The record, once the run has reached its end.
  ServiceRecord finish();

 private:
  void pass(Tick now);
  void happens(const Happening&, const Evaluator* = nullptr);
  void begin_brownout(Tick at, ChainLink last);
  void complete(Tick now);
  void count_wake();
  void fail_start();
  void judge(BrownOut&) const;

  const Diagram& diagram_;
  const Feeding feeding_;
  std::optional<std::size_t> controller_;
  const Tick begin_;
  Tick end_;
  const SunnyDays sky_;
  const int sunny_days_;

  ServiceRecord record_;
  std::vector<ChainLink> faults_;    ///< given by the user, in force, in the order in which they began
  std::vector<ChainLink> cuts_;      ///< parts that have stopped feeding, in the order in which they did
  std::vector<ChainLink> strained_;  ///< limits reached in the present wake
  std::optional<Tick> due_;          ///< earliest alarm not answered by a completed wake
  bool counted_ = false;             ///< the present due alarm, or start without one, has become a wake
  bool powered_ = false, valid_ = false, running_ = false;
  std::optional<Tick> came_due_unstarted_;
  Tick powered_since_ = 0, wake_began_ = 0, last_completed_ = 0;
  bool controller_told_ = false;  ///< any event of the controller has been told
  bool in_brownout_ = false;
  bool wanted_ =
      true;  ///< the instrument should run or wait for its alarm; not between a completed wake and that alarm
  bool power_came_inside_ = false;  ///< the present episode had begun when the present power came
  int brownout_round_ = 0;          ///< event round in which the present episode began
  std::size_t answered_ = 0;        ///< due alarms that a completed wake followed
};

}  // namespace overwinter
