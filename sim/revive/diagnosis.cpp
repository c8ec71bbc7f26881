#include "sim/revive/diagnosis.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <stdexcept>

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "models/converters/boost.hpp"
#include "models/converters/linear_charger.hpp"
#include "models/paths/protector.hpp"
#include "models/storage/cell.hpp"
#include "sim/number_text.hpp"

namespace overwinter {
namespace {

constexpr double most = 0.5;           // of the offered light: what is refused of it beyond that keeps the cell empty
constexpr double usable_share = 0.1;   // of the capacity: a cell that has as much could feed a wake
constexpr double exactly_known = 100;  // starts: of more, many were stepped over
constexpr double sees_light = 1.0;     // J offered on a day

class Doctor {
 public:
  Doctor(const Diagram& diagram, Simulator& simulator, const LastDay& day)
      : diagram_(diagram), day_(day), system_(simulator.at(day.noon)) {
    for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
      const Model* m = diagram.parts()[p].model.get();
      const auto note = [p](std::optional<std::size_t>& slot, bool is) {
        if (is && !slot) slot = p;
      };
      note(controller_, dynamic_cast<const Controller*>(m) != nullptr);
      note(clock_, dynamic_cast<const Clock*>(m) != nullptr);
      note(guard_, dynamic_cast<const Protector*>(m) != nullptr);
      note(charger_, dynamic_cast<const LinearCharger*>(m) != nullptr);
      note(boost_, dynamic_cast<const Boost*>(m) != nullptr);
      note(cell_, dynamic_cast<const Cell*>(m) != nullptr);
    }
    if (!controller_ || !cell_) throw std::logic_error("an instrument without controller or cell passed the check");
  }

  Diagnosis tell() {
    if (const auto d = at_the_controller()) return *d;
    if (const auto d = at_the_clock()) return *d;
    if (const auto d = at_the_protector()) return *d;
    if (gained() > 0) return charging();
    if (const auto d = at_the_charger()) return *d;
    if (has_charge()) {
      return {"cut-off", fmt::format("the cell stands at {}, and {} gets {}{}", percent_text(charge(day_.end)),
                                     name(*controller_), volts(supply()), converter())};
    }
    return {"little-light",
            fmt::format("of {} that the panels could give on the last day {} was taken, and the cell gained nothing",
                        energy_text(offered()), energy_text(taken()))};
  }

 private:
  std::optional<Diagnosis> at_the_controller() {
    const auto& p = static_cast<const Controller&>(model(*controller_)).parameters();
    const std::string mode = label(*controller_, "mode"), who = name(*controller_);
    const double runs = (p.brownout_detector ? p.brownout_threshold : p.minimum_supply).si();
    if (mode == "hung") {
      return Diagnosis{"controller-hung", fmt::format("{} hangs at {}: no reset before its supply falls below {}", who,
                                                      volts(supply()), volts(p.reset_rearm.si()))};
    }
    if (mode == "idle") {
      return Diagnosis{"switch-stuck",
                       fmt::format("{} has finished and stays on at {}, drawing {:.2g} mA{}{}", who, volts(supply()),
                                   1e3 * output(*controller_, "current"),
                                   flag_set() ? ", for the flag of " + name(*clock_) + " is still set" : "",
                                   "; the cell " + gain_text())};
    }
    if (day_.starts >= 1) {
      if (gained() > 0) return charging();
      return Diagnosis{"reset-loop",
                       fmt::format("{} started {}{:.0f} times on the last day, and the cell {}", who,
                                   day_.starts < exactly_known ? "" : "about ", day_.starts, gain_text())};
    }
    if (supply() < p.reset_rearm.si()) return std::nullopt;
    if (gained() > 0) return charging();
    return Diagnosis{"half-powered", fmt::format("{} is held in reset at {}; it starts at {}{}", who, volts(supply()),
                                                 volts(runs + p.brownout_hysteresis.si()), converter())};
  }

  std::optional<Diagnosis> at_the_clock() {
    if (!clock_ || flag_set()) return std::nullopt;
    const Tick alarm = day_.end.alarm[diagram_.parts()[*clock_].alarm];
    if (alarm == never) {
      return Diagnosis{"no-alarm", fmt::format("{} has neither flag nor alarm; the cell stands at {}", name(*clock_),
                                               percent_text(charge(day_.end)))};
    }
    return Diagnosis{"alarm-to-come", fmt::format("the next alarm of {} is at {}", name(*clock_), iso_time(alarm))};
  }

  std::optional<Diagnosis> at_the_protector() {
    if (!guard_ || label(*guard_, "state") != "over-discharge" || !has_charge()) return std::nullopt;
    const View v = system_.view(*guard_);
    return Diagnosis{"protector-waits",
                     fmt::format("{} is open with {} on the cell's side and {} on the other{}", name(*guard_),
                                 volts(v.z[0] - v.z[2]), volts(v.z[1] - v.z[2]), charger_says())};
  }

  std::optional<Diagnosis> at_the_charger() {
    if (!charger_ || offered() < sees_light) return std::nullopt;
    const auto [cause, joules] = most_refused();
    if (joules < most * offered()) return std::nullopt;
    const std::string who = name(*charger_);
    const auto& p = static_cast<const LinearCharger&>(model(*charger_)).parameters();
    const std::string share =
        fmt::format("{} refused {} of the last day's light", who, percent_text(joules / offered(), 0));
    if (cause == "too cold") {
      return Diagnosis{"charger-cold",
                       fmt::format("{} as too cold: it charges again above {:g} degC, and the cell had {:.1f} degC at "
                                   "noon",
                                   share, (p.cold_limit + p.temperature_hysteresis).si() - zero_celsius.si(),
                                   output(*cell_, "temperature") - zero_celsius.si())};
    }
    if (cause == "too hot") return Diagnosis{"charger-hot", share + " as too hot"};
    if (cause == "complete") return Diagnosis{"charger-complete", share + ", for it takes the cell for full"};
    if (cause == "pre-charge") {
      return Diagnosis{"precharge-taken", fmt::format("{} gives {:.3g} mA of pre-charge at {}, and none of it stays in "
                                                      "the cell{}",
                                                      who, 1e3 * output(*charger_, "charge_current"),
                                                      volts(out_of_charger()), guard_says())};
    }
    return Diagnosis{"light-refused", share + ": " + cause};
  }

  Diagnosis charging() const {
    return {"still-charging",
            fmt::format("the cell {} on the last day and stands at {}", gain_text(), percent_text(charge(day_.end)))};
  }

  const Model& model(std::size_t p) const { return system_.model(p); }
  const std::string& name(std::size_t p) const { return diagram_.parts()[p].name; }
  static std::string volts(double v) { return fixed_text(v, 2) + " V"; }

  const Output& named(std::size_t p, const std::string& output) const {
    for (const Output& o : diagram_.parts()[p].table->outputs) {
      if (o.name == output) return o;
    }
    throw std::logic_error(name(p) + " has no output " + output);
  }
  double output(std::size_t p, const std::string& o) const { return named(p, o).value(model(p), system_.view(p)); }
  std::string label(std::size_t p, const std::string& o) const {
    return named(p, o).labels.at(static_cast<std::size_t>(output(p, o)));
  }

  double supply() const { return output(*controller_, "supply"); }
  bool flag_set() const { return clock_ && label(*clock_, "flag") == "set"; }
  double out_of_charger() const {
    const View v = system_.view(*charger_);
    return v.z[1] - v.z[2];
  }
  std::string charger_says() const {
    return charger_ ? "; " + name(*charger_) + " at noon: " + label(*charger_, "regime") : std::string();
  }
  std::string guard_says() const {
    const bool open = guard_ && label(*guard_, "state") != "closed";
    return open ? ", which " + name(*guard_) + " has cut off" : std::string();
  }
  std::string converter() const {
    return boost_ ? "; " + name(*boost_) + ": " + label(*boost_, "regime") : std::string();
  }

  double capacity() const { return static_cast<const Cell&>(model(*cell_)).parameters().capacity.si(); }
  double charge(const Context& c) const { return c.state[diagram_.parts()[*cell_].state] / capacity(); }
  bool has_charge() const { return charge(day_.end) >= usable_share; }
  /// Of the capacity; 0 where it is not worth the name.
  double gained() const {
    const double share = charge(day_.end) - charge(day_.begin);
    return std::abs(share) < notable_gain ? 0 : share;
  }
  std::string gain_text() const {
    if (gained() == 0) return "gained nothing";
    return fmt::format("{} {:.2g} mAh", gained() > 0 ? "gained" : "lost", std::abs(gained_mAh()));
  }
  double gained_mAh() const { return (charge(day_.end) - charge(day_.begin)) * capacity() / 3.6; }

  double over_the_day(std::size_t integral) const {
    const std::size_t place = diagram_.states() + integral;
    return day_.end.state[place] - day_.begin.state[place];
  }
  double offered() const {
    double sum = 0;
    for (const HarvestLink& link : diagram_.harvest()) sum += over_the_day(link.offered_flow);
    return sum;
  }
  double taken() const {
    double sum = 0;
    for (const HarvestLink& link : diagram_.harvest()) sum += over_the_day(link.taken_flow);
    return sum;
  }
  std::pair<std::string, double> most_refused() const {
    std::pair<std::string, double> worst{"", 0.0};
    for (std::size_t slot = 0; slot < diagram_.refused().size(); ++slot) {
      const double joules = over_the_day(diagram_.flows() + slot);
      if (joules > worst.second) worst = {diagram_.refused()[slot].cause, joules};
    }
    return worst;
  }

  const Diagram& diagram_;
  const LastDay& day_;
  Evaluator& system_;
  std::optional<std::size_t> controller_, clock_, guard_, charger_, boost_, cell_;
};

}  // namespace

std::string name_of(Fate fate) {
  switch (fate) {
    case Fate::back:
      return "back";
    case Fate::undecided:
      return "undecided";
    case Fate::trap:
      return "trap";
    case Fate::replace_cell:
      return "replace the cell";
    case Fate::not_completed:
      return "not completed";
    case Fate::not_tried:
      return "not tried";
  }
  return {};
}

const std::vector<Block>& blocks() {
  static const std::vector<Block> all = {
      {replace_cell,
       "the cell has been below empty: copper may have grown in it, and it is not to be charged again",
       "a cut-off that keeps a reserve for all that goes on drawing, or a cell that is larger than that draws by the "
       "next visit",
       {},
       Fate::replace_cell},
      {"no-alarm",
       "the clock has neither alarm nor flag: nothing turns the switch on, whatever the cell holds",
       "keep the clock from losing its alarm (a coin cell that is checked, or a supply that the protector cannot cut), "
       "and let the return of power start the instrument once without any alarm",
       {}},
      {"controller-hung",
       "the controller hangs on a supply that never falls low enough for a reset",
       "turn the brown-out detector on, or hold the controller in reset with a voltage detector, and let nothing feed "
       "its supply past the open switch or the idle converter",
       {"back-feed", "switch-bypassed"}},
      {"switch-stuck",
       "the switch stays on after the wake: the next alarm starts nothing, and the cell is drained",
       "let the firmware set the alarm, read it back and then clear the flag; or let a timer of its own open the "
       "switch",
       {"gate-never-off", "gate-pull-up-weak", "switch-bypassed", "back-feed"}},
      {"reset-loop",
       "it starts and browns out again and again, which takes all that the light brings",
       "start well above the voltage that stops it: a wider lockout or release hysteresis, or a supply that is only "
       "switched on above a voltage at which a whole wake fits",
       {"lockout-hysteresis", "release-hysteresis", "burst-path-drop"}},
      {"half-powered",
       "the controller is held in reset at a supply that never becomes valid, and draws what there is",
       "a converter that cuts its output off while it does not run, or a switch that a voltage detector opens",
       {"back-feed", "switch-bypassed"}},
      {"protector-waits",
       "the protector keeps a cell with charge in it cut off until a charger comes, and sees none",
       "a protector that feeds again by the cell's voltage alone",
       {"precharge-below-load"}},
      {"charger-cold",
       "the charger refuses the light, for the cell is too cold to be charged",
       "a place for the cell that the day warms above the charger's cold limit and hysteresis, or a cell and charger "
       "that may charge in colder air",
       {}},
      {"charger-hot",
       "the charger refuses the light, for the cell is too hot to be charged",
       "a place for the cell in the shade, or a charger with a higher hot limit if the cell's datasheet allows it",
       {}},
      {"charger-complete",
       "the charger takes the cell for full",
       "a charger that begins anew below a voltage that the cell can reach while it feeds the instrument",
       {"overcharge-trip-below-charge"}},
      {"precharge-taken",
       "the charger gives its pre-charge only, and what hangs on its output takes it all",
       "a pre-charge current well above what is drawn at the charger's output all the time, or those loads behind a "
       "switch or an enable line",
       {"precharge-below-load"}},
      {"light-refused",
       "the charger refuses most of the light",
       "panels whose voltage and current fit the charger (see what a run says of the light that was not taken)",
       {}},
      {"cut-off",
       "the cell has charge and the switch is to be on, but no supply reaches the controller",
       "a converter and a switch that come back by themselves from where they stand here",
       {"gate-pull-up-weak", "lockout-hysteresis"}},
      {"still-charging", "not back in time, but the cell was gaining charge", "", {}, Fate::undecided},
      {"alarm-to-come", "not back in time, but an alarm was still to come", "", {}, Fate::undecided},
      {"little-light", "the panels gave too little for the cell to gain anything", "", {}, Fate::undecided},
  };
  return all;
}

const Block& block_of(const std::string& id) {
  const auto found = std::find_if(blocks().begin(), blocks().end(), [&](const Block& b) { return b.id == id; });
  if (found == blocks().end()) throw std::logic_error("there is no block " + id);
  return *found;
}

Diagnosis diagnose(const Diagram& diagram, Simulator& simulator, const LastDay& day) {
  return Doctor(diagram, simulator, day).tell();
}

}  // namespace overwinter
