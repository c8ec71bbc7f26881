#include <algorithm>
#include <cmath>

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/netlist/review/themes.hpp"

namespace overwinter {
namespace {

std::string time_text(Duration d) { return fitting_text(d.si(), unit_of<Duration>("s")); }
std::string long_text(Duration d) { return fitting_text(d.si(), unit_of<Duration>("h")); }

bool ever(AlarmMatch match) { return match != AlarmMatch::year; }

class AlarmReview {
 public:
  AlarmReview(const Scenario& s, const ScenarioPart& clock, const ScenarioPart& controller)
      : s_(s),
        policy_(*s.policy),
        clock_(clock),
        controller_(controller),
        match_(as<Clock>(clock)->parameters().alarm_match),
        from_(as<Controller>(controller)->parameters().counts_from),
        elapsed_(as<Controller>(controller)->counted_before_write()) {}

  std::vector<DesignFinding> read() {
    look_at_past();
    look_at_early();
    look_at_silence();
    return std::move(findings_);
  }

 private:
  void add(const std::string& rule, std::string text, std::string suggestion) {
    findings_.push_back({rule, {"policy", clock_.name}, std::move(text), std::move(suggestion)});
  }

  static const Field& field() { return *Clock::describe().field("alarm_match"); }
  static std::string key(AlarmMatch match) {
    return "alarm_match: " + field().choices[static_cast<std::size_t>(match)];
  }

  /// The match that compares least and still tells the longest interval apart.
  AlarmMatch finest() const {
    AlarmMatch best = AlarmMatch::year;
    for (std::size_t i = 0; i < field().choices.size(); ++i) {
      const auto match = static_cast<AlarmMatch>(i);
      if (period(match).shortest >= policy_.longest_interval()) best = match;
    }
    return best;
  }

  /// An interval that is over before the alarm is set: the clock's law for an alarm in the past (alarm_match.hpp).
  void look_at_past() {
    const Duration shortest = policy_.shortest_interval();
    if (from_ == CountsFrom::write || shortest > elapsed_) return;
    const std::string wait =
        ever(match_) ? "comes when it matches again, " + long_text(period(match_).longest) + " later" : "never comes";
    add("alarm-past-when-set",
        "the policy's interval of " + time_text(shortest) + " counts from the " +
            (from_ == CountsFrom::wake ? "wake's begin" : "reading") + ", but " + controller_.name +
            " sets the alarm " + time_text(elapsed_) + " later: it is " + time_text(elapsed_ - shortest) +
            " past, and " + wait + " (" + key(match_) + ")",
        "an interval well above " + time_text(elapsed_) + ", or counts_from: write");
  }

  void look_at_early() {
    const Duration longest = policy_.longest_interval();
    if (longest <= period(match_).shortest) return;
    const std::optional<double> comes = first_match(match_, (longest - elapsed_).si(), Moment{});
    const std::string early = match_ == AlarmMatch::date
                                  ? "it may come after " + long_text(period(match_).shortest) + " already"
                                  : "it comes after " + long_text(Duration{*comes} + elapsed_) + " already";
    add("interval-beyond-match",
        "the policy's interval of " + long_text(longest) + " is longer than the " + long_text(period(match_).shortest) +
            " after which " + clock_.name + "'s alarm matches again (" + key(match_) + "): " + early,
        key(finest()));
  }

  /// What a missed alarm costs is the mask's period: never coarser than the longest silence that is accepted (common
  /// practice). Not told of a clock whose mask nobody has chosen and that cannot be given an alarm in the past.
  void look_at_silence() {
    if (!ever(match_) && from_ == CountsFrom::write) return;
    const auto required = std::find_if(s_.requirements.begin(), s_.requirements.end(),
                                       [](const Requirement& r) { return r.name == "longest_gap"; });
    const bool given = required != s_.requirements.end();
    const Duration silence = given ? Duration{required->limit} : policy_.longest_interval();
    if (period(match_).longest <= silence) return;
    const AlarmMatch better = finest();
    const std::string costs = ever(match_) ? (match_ == AlarmMatch::date ? "comes up to " : "comes ") +
                                                 long_text(period(match_).longest) + " later"
                                           : "never comes";
    add("alarm-match-coarse",
        clock_.name + ": an alarm that is missed " + costs + " (" + key(match_) + "), but " +
            (given ? "longest_gap allows " : "the policy sleeps for at most ") + long_text(silence),
        better > match_ ? key(better) : "shorter intervals, and the alarm_match that goes with them");
  }

  const Scenario& s_;
  const Policy& policy_;
  const ScenarioPart &clock_, &controller_;
  const AlarmMatch match_;
  const CountsFrom from_;
  const Duration elapsed_;
  std::vector<DesignFinding> findings_;
};

}  // namespace

std::vector<DesignFinding> review_alarms(const Scenario& s) {
  const auto first = [&](auto is) { return std::find_if(s.parts.begin(), s.parts.end(), is); };
  const auto clock = first([](const ScenarioPart& part) { return as<Clock>(part) != nullptr; });
  const auto controller = first([](const ScenarioPart& part) { return as<Controller>(part) != nullptr; });
  if (!s.policy || clock == s.parts.end() || controller == s.parts.end()) return {};
  return AlarmReview(s, *clock, *controller).read();
}

}  // namespace overwinter
