#include <fmt/format.h>

#include <set>

#include "models/paths/resistor.hpp"
#include "models/paths/schottky.hpp"
#include "models/paths/signal_line.hpp"
#include "sim/mechanisms/themes.hpp"

namespace overwinter {
namespace {

constexpr Tick settles = 60 * ticks_per_second;  // after a wake: the supply is gone by then
constexpr double notable = 1e-6;                 // A, a clock's own consumption
constexpr double off_share = 0.5;                // of the threshold: models/paths/p_switch.hpp
// Pull-ups of a bus are 1 to 10 kohm, dividers are made of 100 kohm and more: common practice.
constexpr Resistance divider{30e3};

/// Looked at a minute after a wake, as an alarm comes due, and at the end of each day, where the controller is not
/// powered and no switch on its supply conducts:
///   back-feed      its supply stands above the voltage below which a power-on reset is armed, and what gives the most
///                  current into that net is a signal line, a resistor or a diode (Kirchhoff's current law)
///   divider-leak   a single line of a divider's resistance leaks a microampere and more into an unpowered part
class BackFeedDetector final : public Detector {
 public:
  BackFeedDetector(const Instrument& instrument, MechanismBook& book)
      : Detector(instrument, book), lines_(instrument.all<SignalLine>()) {
    for (std::size_t p = 0; p < on_.diagram().parts().size(); ++p) {
      if (on_.as<SignalLine>(p) || on_.as<Resistor>(p) || on_.as<Schottky>(p)) ways_.push_back(p);
    }
  }

  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    if (!h.event || !on_.controller) return;
    if (h.event->role == EventRole::wake_completed) look_at_ = h.time + settles;
    if (h.event->role == EventRole::alarm_due && look(h.time, system)) alarms_.insert(h.time);
  }

  void on_look(Tick now, const double*, Evaluator& system) override {
    look_at_ = never;
    look(now, system);
  }

  void on_day(Tick now, const double*, Evaluator& system) override {
    if (on_.controller) look(now, system);
  }

  std::string explains(const BrownOut& b) const override {
    return b.chain.front().part.empty() && alarms_.count(b.begin) ? "back-feed" : std::string();
  }

 private:
  /// True for a phantom supply.
  bool look(Tick now, const Evaluator& system) {
    const std::string mode = on_.label(*on_.controller, "mode", system);
    const int net = on_.net(*on_.controller, "supply");
    if (mode == "booting" || mode == "running" || mode == "idle" || switched_on(net, system)) return false;
    for (const std::size_t p : lines_) look_at_divider(p, now, system);
    const ControllerParameters& c = on_.as<Controller>(*on_.controller)->parameters();
    const double supply = on_.output(*on_.controller, "supply", system);
    if (supply <= c.reset_rearm.si()) return false;
    std::size_t way = 0;
    double most = notable;
    for (const std::size_t p : ways_) {
      const double given = -current_into(p, net, system);
      if (given > most) {
        most = given;
        way = p;
      }
    }
    if (most <= notable) return false;
    MechanismRecord& r = book_.file("back-feed", on_.name(way), now, [&] {
      return MechanismBook::Words{
          fmt::format("{} gives {} into the supply of {}, which is switched off: it stands at {}, above {}, so that no "
                      "power-on reset is armed; {} is {}",
                      on_.name(way), about(Current{most}, "A"), on_.name(*on_.controller), about(Voltage{supply}, "V"),
                      about(c.reset_rearm, "V"), on_.name(*on_.controller), mode),
          {{"current_A", most}, {"supply_V", supply}, {"reset_armed_below_V", c.reset_rearm.si()}, {"mode", mode}}};
    });
    r.counts = "sighting";
    return true;
  }

  bool switched_on(int net, const Evaluator& system) const {
    for (const std::size_t s : on_.all<PSwitch>()) {
      const double drive = on_.volts(s, "source", "gate", system);
      if (on_.net(s, "drain") == net && drive > off_share * on_.as<PSwitch>(s)->parameters().threshold.si())
        return true;
    }
    return false;
  }

  double current_into(std::size_t p, int net, const Evaluator& system) const {
    std::vector<double> f(on_.part(p).width());
    system.model(p).evaluate(system.view(p), f.data());
    double sum = 0;
    for (std::size_t i = 0; i < on_.part(p).pins(); ++i) {
      if (on_.part(p).nets[i] == net) sum += f[i];
    }
    return sum;
  }

  void look_at_divider(std::size_t p, Tick now, const Evaluator& system) {
    const SignalLineParameters& l = on_.as<SignalLine>(p)->parameters();
    const double amperes = on_.current(p, "from", system);
    if (l.lines != 1 || l.resistance < divider || amperes < notable) return;
    MechanismRecord& r = book_.file("divider-leak", on_.name(p), now, [&] {
      const double volts = system.view(p).z[0];
      return MechanismBook::Words{
          fmt::format("{} leaks {} from {} through the clamp diode of a pin that is not powered: {} a day", on_.name(p),
                      about(Current{amperes}, "A"), about(Voltage{volts}, "V"),
                      about(Charge{amperes * 86400} / Duration{3600}, "A") + "h"),
          {{"current_A", amperes}, {"from_V", volts}, {"resistance_ohm", l.resistance.si()}}};
    });
    r.counts = "sighting";
  }

  const std::vector<std::size_t> lines_;
  std::vector<std::size_t> ways_;  ///< parts that could feed a net past its switch
  std::set<Tick> alarms_;          ///< that found a phantom supply
};

}  // namespace

std::unique_ptr<Detector> detect_back_feed(const Instrument& instrument, MechanismBook& book) {
  return std::make_unique<BackFeedDetector>(instrument, book);
}

}  // namespace overwinter
