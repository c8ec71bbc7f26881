#include <fmt/format.h>

#include "sim/mechanisms/themes.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/number_text.hpp"

namespace overwinter {
namespace {

/// protector-trip: the protector's own cut. What closes it again is part of the physics: the cell's voltage alone, only
/// a charger that drives current into the cell, or the removal of the load.
class TripDetector final : public Detector {
 public:
  using Detector::Detector;

  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    if (!h.event) return;
    if (h.event->role != EventRole::cut && h.event->role != EventRole::restored) return;
    const std::size_t p = on_.index(*h.part);
    if (!on_.as<Protector>(p)) return;
    if (h.event->role == EventRole::cut) {
      file(p, h.time, system);
      return;
    }
    const auto tripped = open_.find(p);
    if (tripped == open_.end()) return;
    const double seconds = static_cast<double>(h.time - tripped->second) / ticks_per_second;
    MechanismRecord& r = *book_.find("protector-trip", on_.name(p));
    count_released(r, p, 1);
    if (r.facts["longest_open_s"].get<double>() < seconds) r.facts["longest_open_s"] = seconds;
    open_.erase(tripped);
  }

  void on_leap(const Leap& leap) override {
    for (const Leap::Part* part : {&leap.first, &leap.then}) {
      for (const CycleEvent& e : part->events) {
        if (!on_.as<Protector>(e.part)) continue;
        const EventRole role = on_.part(e.part).table->events[e.event].role;
        MechanismRecord* r = book_.find("protector-trip", on_.name(e.part));
        if (r && role == EventRole::restored) count_released(*r, e.part, part->times);
        if (role != EventRole::cut || !r) continue;
        r->count += part->times;
        r->last = leap.end;
      }
    }
  }

  void finish(Tick end, const double*, Evaluator&) override {
    for (const auto& [p, since] : open_) {
      MechanismRecord& r = *book_.find("protector-trip", on_.name(p));
      r.facts["open_at_end"] = true;
      const double seconds = static_cast<double>(end - since) / ticks_per_second;
      if (r.facts["longest_open_s"].get<double>() < seconds) r.facts["longest_open_s"] = seconds;
      r.text += fmt::format("; still open at the end, for {}", duration_text(seconds));
    }
  }

  std::string explains(const BrownOut& b) const override {
    const ChainLink& first = b.chain.front();
    for (const std::size_t p : on_.all<Protector>()) {
      if (first.part == on_.name(p)) return "protector-trip";
    }
    return {};
  }

 private:
  void count_released(MechanismRecord& r, std::size_t p, double times) {
    released_[p] += times;
    r.facts["released"] = std::lround(released_[p]);
  }

  void file(std::size_t p, Tick at, const Evaluator& system) {
    const ProtectorParameters& g = on_.as<Protector>(p)->parameters();
    const double amperes = on_.output(p, "current", system), cell = on_.volts(p, "cell", "ground", system);
    const bool current = amperes >= g.overcurrent.si() * 0.98;
    const std::string release = current                                  ? "load removed"
                                : g.release == DischargeRelease::voltage ? "voltage"
                                                                         : "charger";
    const std::string closes = current ? "once the load is gone"
                               : g.release == DischargeRelease::voltage
                                   ? "by itself, at " + about(g.overdischarge_release, "V")
                                   : std::string("only for a charger that drives current into the cell");
    book_.file("protector-trip", on_.name(p), at, [&] {
      const std::string what =
          current ? fmt::format("{} opened at {} of discharge, above its {}", on_.name(p), about(Current{amperes}, "A"),
                                about(g.overcurrent, "A"))
                  : fmt::format("{} opened with the cell at {} V for {}, not above its {}, under {} of load",
                                on_.name(p), fixed_text(cell, 3), duration_text(g.overdischarge_delay.si()),
                                volts(g.overdischarge_voltage), about(Current{amperes}, "A"));
      return MechanismBook::Words{what + "; it closes " + closes,
                                  {{"kind", current ? "over-current" : "over-discharge"},
                                   {"release", release},
                                   {"cell_V", cell},
                                   {"current_A", amperes},
                                   {"released", 0},
                                   {"longest_open_s", 0.0},
                                   {"open_at_end", false}}};
    });
    open_.try_emplace(p, at);
  }

  std::map<std::size_t, Tick> open_;  ///< protectors that are, and since when
  std::map<std::size_t, double> released_;
};

}  // namespace

std::unique_ptr<Detector> detect_trips(const Instrument& instrument, MechanismBook& book) {
  return std::make_unique<TripDetector>(instrument, book);
}

}  // namespace overwinter
