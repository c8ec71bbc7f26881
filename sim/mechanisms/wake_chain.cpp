#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/mechanisms/themes.hpp"
#include "sim/netlist/units_text.hpp"

namespace overwinter {
namespace {

constexpr Tick settles = 60 * ticks_per_second;       // after a wake: the supply is gone by then
constexpr double never_late = 60 * 365.25 * 86400.0;  // s: the clock's output says 68 years for never
constexpr double off_share = 0.5;                     // of the threshold: models/paths/p_switch.hpp

/// An alarm can be lost to the clock itself, by its own events: alarm-missed, clock-backup-lost.
/// A minute after a wake, and when the next alarm comes due, the controller should be off. If it is not:
///   flag-not-cleared   the clock still pulls its interrupt line
///   gate-undriven      it does not, and yet the switch on that line conducts: more than half its threshold of drive is
///                      left (models/paths/p_switch.hpp)
/// gate-undriven is filed too where the clock pulls, the source is high enough for full drive, and the switch is half
/// driven all the same.
class WakeChainDetector final : public Detector {
 public:
  WakeChainDetector(const Instrument& instrument, MechanismBook& book)
      : Detector(instrument, book), switches_(on_.all<PSwitch>()) {}

  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    if (!h.event || !on_.clock) return;
    switch (h.event->role) {
      case EventRole::wake_completed:
        look_at_ = h.time + settles;
        break;
      case EventRole::alarm_due:
        if (on_.controller && on_.label(*on_.controller, "mode", system) == "idle") look(h.time, system, true);
        break;
      case EventRole::alarm_lost:
        if (clock_memory(Clock::news, system) == Clock::past) {
          miss(h.time, system);
        } else if (of_its_table(h)) {
          lose(h.time, system);
        }
        break;
      case EventRole::brown_out:
        look_at_drive(h.time, system, true);
        break;
      case EventRole::none:
        if (!h.event->routine && on_.as<PSwitch>(on_.index(*h.part))) look_at_drive(h.time, system, false);
        if (on_.index(*h.part) == *on_.clock && clock_memory(Clock::news, system) == Clock::early) miss(h.time, system);
        break;
      default:
        break;
    }
  }

  void on_look(Tick now, const double*, Evaluator& system) override {
    look_at_ = never;
    if (on_.controller && on_.label(*on_.controller, "mode", system) != "idle") return;
    look(now, system, false);
  }

  std::string explains(const BrownOut& b) const override {
    const ChainLink& first = b.chain.front();
    const bool of_controller = on_.controller && first.part == on_.name(*on_.controller);
    const bool of_clock = on_.clock && first.part == on_.name(*on_.clock);
    if (!first.part.empty() && !of_controller && !of_clock) return {};
    const auto found = seen_.find(b.begin);
    return found == seen_.end() ? std::string() : found->second;
  }

 private:
  std::int32_t clock_memory(Clock::Memory which, const Evaluator& system) const {
    return system.view(*on_.clock).memory[which];
  }
  /// Not of a given fault, such as a stopped oscillator.
  static bool of_its_table(const Happening& h) {
    const std::vector<Event>& events = h.part->table->events;
    return std::any_of(events.begin(), events.end(), [&](const Event& e) { return &e == h.event; });
  }
  /// A given fault holds the interrupt: neither flag nor gate is to blame.
  bool held(const Evaluator& system) const {
    return dynamic_cast<const Clock&>(system.model(*on_.clock)).parameters().stuck != StuckInterrupt::free;
  }
  bool pulls(const Evaluator& system) const { return clock_memory(Clock::flag, system) != 0; }

  /// An alarm that is past when it is written, or further ahead than its registers tell apart.
  void miss(Tick now, const Evaluator& system) {
    seen_[now] = "alarm-missed";
    const double late = on_.output(*on_.clock, "alarm_shift", system);
    const bool comes = late < never_late;
    book_.file("alarm-missed", on_.name(*on_.clock), now, [&] {
      nlohmann::ordered_json facts = {{"shift_s", comes ? nlohmann::ordered_json(late) : nlohmann::ordered_json()}};
      std::string set = late < 0 ? "set further ahead than its registers tell apart" : "past when it was set";
      if (on_.controller) {
        const double interval = on_.output(*on_.controller, "interval", system);
        const double passed = on_.as<Controller>(*on_.controller)->counted_before_write().si();
        facts["interval_s"] = interval;
        facts["passed_s"] = passed;
        set += ": an interval of " + duration_text(interval);
        if (passed > 0) set += ", of which " + duration_text(passed) + " were over";
      }
      const std::string when = !comes     ? "it never comes"
                               : late < 0 ? "it comes " + duration_text(-late) + " too soon"
                                          : "it comes " + duration_text(late) + " late";
      return MechanismBook::Words{fmt::format("{}'s alarm was {}; {}", on_.name(*on_.clock), set, when), facts};
    });
  }

  void look(Tick now, const Evaluator& system, bool alarm) {
    if (held(system)) return;
    if (pulls(system)) {
      if (alarm) seen_[now] = "flag-not-cleared";
      MechanismRecord& r = book_.file("flag-not-cleared", on_.name(*on_.clock), now, [&] {
        const double amperes = on_.controller ? on_.output(*on_.controller, "current", system) : 0.0;
        const double charge = on_.cell ? system.view(*on_.cell).x[Cell::charge] : 0.0;
        const double drain = on_.cell ? -on_.output(*on_.cell, "current", system) : 0.0;
        nlohmann::ordered_json facts = {{"idle_A", amperes}, {"drain_A", drain}, {"cell_Ah", charge / 3600}};
        std::string empty;
        if (drain > 0) {
          facts["empty_in_s"] = charge / drain;
          empty = fmt::format(", and the cell gives {}: empty in {} without light", about(Current{drain}, "A"),
                              duration_text(charge / drain));
        }
        return MechanismBook::Words{
            fmt::format("the wake is over and {}'s flag is still set: the switch stays on, {} idles at {}{}",
                        on_.name(*on_.clock), on_.controller ? on_.name(*on_.controller) : "the load",
                        about(Current{amperes}, "A"), empty),
            facts};
      });
      r.counts = "sighting";
      return;
    }
    for (const std::size_t s : switches_) {
      const PSwitchParameters& p = on_.as<PSwitch>(s)->parameters();
      const double drive = on_.volts(s, "source", "gate", system);
      if (on_.net(s, "gate") != on_.net(*on_.clock, "interrupt") || drive <= off_share * p.threshold.si()) continue;
      if (alarm) seen_[now] = "gate-undriven";
      MechanismRecord& r = book_.file("gate-undriven", on_.name(s), now, [&] {
        const double source = system.view(s).z[0];
        return MechanismBook::Words{
            fmt::format("nothing pulls {}'s gate down, and yet {} of drive is left between its source at {} and its "
                        "gate (threshold {}): it cannot be turned off",
                        on_.name(s), about(Voltage{drive}, "V"), about(Voltage{source}, "V"), about(p.threshold, "V")),
            {{"drive_V", drive}, {"source_V", source}, {"threshold_V", p.threshold.si()}}};
      });
      r.counts = "sighting";
    }
  }

  void look_at_drive(Tick now, const Evaluator& system, bool brown_out) {
    if (!pulls(system) || held(system)) return;
    for (const std::size_t s : switches_) {
      const PSwitchParameters& p = on_.as<PSwitch>(s)->parameters();
      const double source = system.view(s).z[0], full = p.on_resistance.x().front();
      if (on_.net(s, "gate") != on_.net(*on_.clock, "interrupt") || source < full) continue;
      if (on_.label(s, "conducting", system) != "half driven") continue;
      const double drive = on_.volts(s, "source", "gate", system), drop = on_.output(s, "voltage_drop", system);
      if (brown_out) seen_[now] = "gate-undriven";
      book_.file("gate-undriven", on_.name(s), now, [&] {
        return MechanismBook::Words{
            fmt::format(
                "{} is half driven: its gate is pulled to {} below the source, full drive is {}; {} drop over it",
                on_.name(s), about(Voltage{drive}, "V"), about(Voltage{full}, "V"), about(Voltage{drop}, "V")),
            {{"drive_V", drive}, {"source_V", source}, {"full_drive_V", full}, {"drop_V", drop}}};
      });
    }
  }

  void lose(Tick now, const Evaluator& system) {
    seen_[now] = "clock-backup-lost";
    book_.file("clock-backup-lost", on_.name(*on_.clock), now, [&] {
      const double supply = on_.volts(*on_.clock, "supply", "ground", system);
      const double left = on_.output(*on_.clock, "backup_charge", system);
      return MechanismBook::Words{
          fmt::format("{} has {} of supply and {} in its coin cell: it stops and forgets its alarm",
                      on_.name(*on_.clock), about(Voltage{supply}, "V"),
                      left > 0 ? about(Charge{left} / Duration{3600}, "A") + "h" : "nothing"),
          {{"supply_V", supply}, {"backup_Ah", left / 3600}}};
    });
  }

  const std::vector<std::size_t> switches_;
  std::map<Tick, std::string> seen_;  ///< at alarms, brown-outs, and where the clock lost its alarm
};

}  // namespace

std::unique_ptr<Detector> detect_wake_chain(const Instrument& instrument, MechanismBook& book) {
  return std::make_unique<WakeChainDetector>(instrument, book);
}

}  // namespace overwinter
