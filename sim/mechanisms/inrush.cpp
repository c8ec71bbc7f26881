#include <fmt/format.h>

#include <algorithm>
#include <set>

#include "models/storage/capacitor.hpp"
#include "sim/mechanisms/themes.hpp"

namespace overwinter {
namespace {

constexpr Tick lasts = ticks_per_second / 4;  // a transient, at most: sim/engine/microscope.cpp
constexpr double hard_at_work = 0.1;          // W, in a switch that charges a store

/// inrush: a cut or brown-out in a transient (View::transient), after a switch-on or burst that the settled network
/// would have borne; transients are only told where the settled network has not failed (sim/engine/microscope.hpp).
/// A limit that is reached on the way there is a link of the same chain.
/// The switch that turns the most power into heat at that moment is the one that closes, where there is one.
///
///   (1) V = (C1 V1 + C2 V2) / (C1 + C2)    charge sharing: where a switch ends up that closes faster than what feeds
///                                          its source, C1 before it at V1 and C2 behind it at V2; also from halfway,
///                                          as the charge stays the same (textbook)
class InrushDetector final : public Detector {
 public:
  InrushDetector(const Instrument& instrument, MechanismBook& book)
      : Detector(instrument, book), switches_(instrument.all<PSwitch>()) {}

  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    if (!h.event || !h.part) return;
    const std::size_t p = on_.index(*h.part);
    if (h.event->load_step) step_ = {h.time, p};
    const EventRole role = h.event->role;
    if (role != EventRole::cut && role != EventRole::brown_out && role != EventRole::limit) return;
    if (!system.view(p).transient || step_.first == never || h.time - step_.first > lasts) return;
    seen_.insert({h.time, h.part->name});
    if (role == EventRole::limit) return;  // on the way to what it ends in
    if (step_.first == filed_) return;     // what follows from the same one
    filed_ = step_.first;
    const std::optional<std::size_t> closing = at_work(system);
    book_.file("inrush", on_.name(closing.value_or(step_.second)), h.time,
               [&] { return closing ? of_switch(*closing, h, system) : of_burst(h); });
  }

  std::string explains(const BrownOut& b) const override {
    return seen_.count({b.chain.front().time, b.chain.front().part}) ? "inrush" : std::string();
  }

 private:
  struct Charged {
    double farad = 0, coulomb = 0;
    double volts() const { return farad > 0 ? coulomb / farad : 0; }
  };

  std::optional<std::size_t> at_work(const Evaluator& system) const {
    std::optional<std::size_t> hardest;
    double most = hard_at_work;
    for (const std::size_t s : switches_) {
      const double watt = on_.output(s, "voltage_drop", system) * on_.output(s, "current", system);
      if (watt <= most) continue;
      most = watt;
      hardest = s;
    }
    return hardest;
  }

  /// The stores on a net and on those behind other switches that are on.
  Charged charged(int net, std::size_t closing, const Evaluator& system) const {
    std::set<int> nets = {net};
    for (std::size_t known = 0; known != nets.size();) {
      known = nets.size();
      for (const std::size_t s : switches_) {
        if (s == closing || on_.label(s, "conducting", system) != "on") continue;
        const int source = on_.net(s, "source"), drain = on_.net(s, "drain");
        if (nets.count(source)) nets.insert(drain);
        if (nets.count(drain)) nets.insert(source);
      }
    }
    Charged sum;
    for (std::size_t p = 0; p < on_.diagram().parts().size(); ++p) {
      double farad = 0, volts = 0;
      if (const Capacitor* store = on_.as<Capacitor>(p); store && nets.count(on_.net(p, "plus"))) {
        farad = store->parameters().capacitance.si();
        volts = on_.output(p, "voltage", system);
      } else if (const Boost* boost = on_.as<Boost>(p); boost && nets.count(on_.net(p, "out"))) {
        farad = boost->parameters().output_capacitance.si();
        volts = system.view(p).x[Boost::store_voltage];
      }
      sum.farad += farad;
      sum.coulomb += farad * volts;
    }
    return sum;
  }

  double seconds_since(const Happening& h) const {
    return static_cast<double>(h.time - step_.first) / ticks_per_second;
  }

  MechanismBook::Words of_switch(std::size_t s, const Happening& h, const Evaluator& system) const {
    const Charged before = charged(on_.net(s, "source"), s, system), behind = charged(on_.net(s, "drain"), s, system);
    const double both = before.farad + behind.farad;
    const double shared = both > 0 ? (before.coulomb + behind.coulomb) / both : 0;  // (1)
    return {
        fmt::format("{} closed onto {} at {}, with {} at {} before it, which sharing their charge would leave at {}: "
                    "{} {} came {} after the load came on",
                    on_.name(s), about(Capacitance{behind.farad}, "F"), about(Voltage{behind.volts()}, "V"),
                    about(Capacitance{before.farad}, "F"), about(Voltage{before.volts()}, "V"),
                    about(Voltage{shared}, "V"), h.part->name, h.event->name, about(Duration{seconds_since(h)}, "s")),
        {{"before_F", before.farad},
         {"before_V", before.volts()},
         {"behind_F", behind.farad},
         {"behind_V", behind.volts()},
         {"shared_V", shared},
         {"after_s", seconds_since(h)}}};
  }

  MechanismBook::Words of_burst(const Happening& h) const {
    return {fmt::format("a load of {} came on, and before its supply had answered {} {} came, {} later",
                        on_.name(step_.second), h.part->name, h.event->name, about(Duration{seconds_since(h)}, "s")),
            {{"after_s", seconds_since(h)}}};
  }

  const std::vector<std::size_t> switches_;
  std::pair<Tick, std::size_t> step_{never, 0};  ///< the latest load step
  Tick filed_ = never;
  std::set<std::pair<Tick, std::string>> seen_;
};

}  // namespace

std::unique_ptr<Detector> detect_inrush(const Instrument& instrument, MechanismBook& book) {
  return std::make_unique<InrushDetector>(instrument, book);
}

}  // namespace overwinter
