#include <fmt/format.h>

#include <cmath>
#include <set>

#include "sim/mechanisms/themes.hpp"

namespace overwinter {
namespace {

constexpr Tick settles = 10 * ticks_per_second, stays = 60 * ticks_per_second;
constexpr Tick soon = 1200 * ticks_per_second;  // after an alarm that started nothing: grace, settling, a long step
constexpr double conducts = 1e-7;               // A, through a converter that does not run

/// pass-through: a converter that does not run feeds the rail through its rectifier (models/converters/boost.hpp (6)),
/// and the controller's supply stands between the voltage at which a power-on reset is armed and the one at which it
/// starts. half-awake: the controller is hung, or has been in reset with a supply in that zone, for a minute. Both are
/// looked at after what can lead there (a cut, power that comes, a brown-out, an alarm) and at the end of each day.
class HalfStateDetector final : public Detector {
 public:
  using Detector::Detector;

  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    if (!h.event || !on_.controller) return;
    switch (h.event->role) {
      case EventRole::alarm_due:
        look(h.time, system, true);
        break;
      case EventRole::power_came:
      case EventRole::brown_out:
      case EventRole::cut:
        if (look_at_ == never) look_at_ = h.time + settles;
        break;
      case EventRole::wake_begins:
      case EventRole::power_gone:
        half_since_ = never;
        break;
      default:
        break;
    }
  }

  void on_look(Tick now, const double*, Evaluator& system) override {
    look_at_ = never;
    look(now, system, false);
  }

  void on_day(Tick now, const double*, Evaluator& system) override {
    if (on_.controller) look(now, system, false);
  }

  std::string explains(const BrownOut& b) const override {
    const std::string& first = b.chain.front().part;
    if (on_.controller && first == on_.name(*on_.controller)) {
      const auto& p = on_.as<Controller>(*on_.controller)->parameters();
      return p.brownout_detector ? std::string() : "half-awake";  // what would have been a reset
    }
    if (!first.empty()) return {};
    const auto seen = [&](const std::set<Tick>& times) {
      const auto next = times.lower_bound(b.begin);
      return next != times.end() && *next <= b.begin + soon;
    };
    if (seen(passed_)) return "pass-through";
    return seen(half_) ? "half-awake" : std::string();
  }

 private:
  void look(Tick now, const Evaluator& system, bool alarm) {
    const std::size_t c = *on_.controller;
    const ControllerParameters& p = on_.as<Controller>(c)->parameters();
    const std::string mode = on_.label(c, "mode", system);
    const double supply = on_.output(c, "supply", system), armed = p.reset_rearm.si();
    const double starts = (p.brownout_detector ? p.brownout_threshold : p.minimum_supply).si();
    const bool between = supply > armed && supply < starts + p.brownout_hysteresis.si();
    const bool half = mode == "hung" || ((mode == "reset" || mode == "reset timer") && between);
    if (!half) {
      half_since_ = never;
    } else if (half_since_ == never) {
      half_since_ = now;
      look_at_ = now + stays;
    } else if (now - half_since_ >= stays || alarm) {
      const double amperes = on_.output(c, "current", system);
      MechanismRecord& r = book_.file("half-awake", on_.name(c), now, [&] {
        return MechanismBook::Words{
            mode == "hung" ? fmt::format("{} hangs at {}: its supply fell below {}, but not below {}, where a power-on "
                                         "reset is armed; it draws {}",
                                         on_.name(c), about(Voltage{supply}, "V"), about(Voltage{starts}, "V"),
                                         about(p.reset_rearm, "V"), about(Current{amperes}, "A"))
                           : fmt::format("{} is held in reset at {}, above {}, where a power-on reset is armed, and "
                                         "below {}, where it starts; it draws {}",
                                         on_.name(c), about(Voltage{supply}, "V"), about(p.reset_rearm, "V"),
                                         about(Voltage{starts}, "V"), about(Current{amperes}, "A")),
            {{"state", mode == "hung" ? "hung" : "reset"}, {"supply_V", supply}, {"current_A", amperes}}};
      });
      r.counts = "sighting";
      half_.insert(now);
    }
    if (between) look_at_converters(now, system, supply, armed, starts);
  }

  void look_at_converters(Tick now, const Evaluator& system, double supply, double armed, double starts) {
    for (const std::size_t b : on_.all<Boost>()) {
      const std::string regime = on_.label(b, "regime", system);
      if (regime == "on" || regime == "starting" || on_.current(b, "out", system) > -conducts) continue;
      const double in = on_.volts(b, "in", "ground", system);
      MechanismRecord& r = book_.file("pass-through", on_.name(b), now, [&] {
        return MechanismBook::Words{
            fmt::format("{} is {} and passes {} of its input on: {} stands at {}, above {}, where a power-on reset is "
                        "armed, and below {}, where it starts",
                        on_.name(b), regime, about(Voltage{in}, "V"), on_.name(*on_.controller),
                        about(Voltage{supply}, "V"), about(Voltage{armed}, "V"), about(Voltage{starts}, "V")),
            {{"input_V", in}, {"supply_V", supply}, {"reset_armed_below_V", armed}, {"starts_above_V", starts}}};
      });
      r.counts = "sighting";
      passed_.insert(now);
    }
  }

  Tick half_since_ = never;
  std::set<Tick> half_, passed_;  ///< when each was seen
};

}  // namespace

std::unique_ptr<Detector> detect_half_states(const Instrument& instrument, MechanismBook& book) {
  return std::make_unique<HalfStateDetector>(instrument, book);
}

}  // namespace overwinter
