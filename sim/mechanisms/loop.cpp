#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/mechanisms/surroundings.hpp"
#include "sim/mechanisms/themes.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr double fewest = 3;                    // starts in vain that make a loop
constexpr Tick apart = 600 * ticks_per_second;  // further apart they are not one loop: sim/engine/hiccup.hpp
constexpr Tick same_loop = 600 * ticks_per_second;

/// reset-loop: three and more starts of the controller no further than ten minutes apart, without a completed wake.
///
///   (1) charge per start = net charge out of the cell over the loop / starts
///   (2) mean current = that charge / time from start to start         charge balance
///   (3) drains faster than the light charges: what is delivered and lost over the loop exceeds what is harvested
///
/// It is the cause of a brown-out that begins at the controller itself: its supply, with the controller taken out,
/// stands above the start threshold (Thevenin, surroundings.hpp (1)), so that its own current pulls it below.
class LoopDetector final : public Detector {
 public:
  using Detector::Detector;

  void on_happening(const Happening& h, const double* state, Evaluator& system) override {
    if (!h.event || !on_.controller) return;
    const EventRole role = h.event->role;
    if (role == EventRole::wake_completed) end();
    if (role == EventRole::brown_out) look_at_supply(h.time, system);
    if (role != EventRole::wake_begins) return;
    const double* integral = state + on_.diagram().states();
    if (starts_ > 0 && h.time - last_ > apart) end();
    if (starts_ == 0) {
      first_ = h.time;
      begun_.assign(integral, integral + on_.diagram().integrals());
    }
    ++starts_;
    last_ = h.time;
    leapt_ = false;
    latest_.assign(integral, integral + on_.diagram().integrals());
  }

  void on_leap(const Leap& leap) override {
    if (starts_ == 0) return;
    for (const Leap::Part* part : {&leap.first, &leap.then}) {
      for (const CycleEvent& e : part->events) {
        if (on_.part(e.part).table->events[e.event].role != EventRole::wake_begins) continue;
        starts_ += part->times;
        last_ = leap.end;
        leapt_ = true;
      }
    }
  }

  void finish(Tick now, const double* integral, Evaluator&) override {
    if (leapt_) {
      latest_.assign(integral, integral + on_.diagram().integrals());
      last_ = now;
    }
    end();
  }

  std::string explains(const BrownOut& b) const override {
    const ChainLink& first = b.chain.front();
    if (!on_.controller || first.part != on_.name(*on_.controller)) return {};
    const auto found = alone_.find(first.time);
    const bool own = found != alone_.end() && found->second.starts;
    return own && book_.find("reset-loop", first.part) ? "reset-loop" : std::string();
  }

  std::string remark(const BrownOut& b) const override {
    const ChainLink& first = b.chain.front();
    if (!on_.controller || first.part != on_.name(*on_.controller)) return {};
    const auto found = alone_.find(first.time);
    if (found == alone_.end()) return {};
    return fmt::format("without {} its supply would have stood at {}, {}", first.part,
                       about(Voltage{found->second.volts}, "V"),
                       found->second.starts ? "high enough to start" : "held down by what else hangs on it");
  }

 private:
  void end() {
    const double starts = std::exchange(starts_, 0.0);
    if (starts < fewest || last_ == first_) return;
    double spent = 0, harvested = 0, out = 0;
    for (std::size_t p = 0; p < on_.diagram().parts().size(); ++p) {
      const DiagramPart& part = on_.part(p);
      for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
        const double change = latest_[part.flow + f] - begun_[part.flow + f];
        const FlowKind kind = part.table->flows[f].kind;
        if (kind == FlowKind::delivered || kind == FlowKind::lost) spent += change;
        if (kind == FlowKind::source) harvested += change;
      }
    }
    if (on_.cell) {
      for (const auto& [flow, sign] : {std::pair{"charge_out", 1.0}, std::pair{"charge_in", -1.0}}) {
        out += sign * (latest_[on_.flow(*on_.cell, flow)] - begun_[on_.flow(*on_.cell, flow)]);
      }
    }
    const double seconds = static_cast<double>(last_ - first_) / ticks_per_second, turns = starts - 1;
    const double each = seconds / turns, charge = out / turns;  // (1)
    const double mean = charge / each;                          // (2)
    const bool drains = spent > harvested;                      // (3)
    const double power = spent / seconds, light = harvested / seconds;
    const std::string& name = on_.name(*on_.controller);
    const std::string light_text =
        harvested > 0
            ? fmt::format(
                  "{} goes, {} of light comes: {}", about(Power{power}, "W"), about(Power{light}, "W"),
                  drains ? "it drains the cell faster than the light charges it" : "the light gives more than it takes")
            : fmt::format("{} goes, without any light", about(Power{power}, "W"));
    const MechanismBook::Words words = {
        fmt::format("{} started {} times in {} without completing a wake, every {}, for {} of the cell's charge each, "
                    "{} on average; {}",
                    name, std::llround(starts), duration_text(seconds), duration_text(each),
                    about(Charge{charge} / Duration{1.0}, "A") + "s", about(Current{mean}, "A"), light_text),
        {{"starts", starts},
         {"duration_s", seconds},
         {"period_s", each},
         {"charge_per_start_C", charge},
         {"mean_current_A", mean},
         {"spent_W", power},
         {"light_W", light},
         {"drains_faster_than_light", drains}}};
    MechanismRecord& r = book_.file("reset-loop", name, first_, [&] { return words; });
    r.counts = "loop";
    r.last = last_;
    if (starts <= r.facts.at("starts").get<double>()) return;
    r.text = words.text;  // of the longest
    r.facts = words.facts;
  }

  void look_at_supply(Tick now, const Evaluator& system) {
    if (looked_ != never && now - looked_ < same_loop) {
      looked_ = now;
      return;
    }
    looked_ = now;
    const std::size_t c = *on_.controller;
    const ControllerParameters& p = on_.as<Controller>(c)->parameters();
    const int net = on_.net(c, "supply");
    const auto source = Surroundings(on_.diagram(), c).source(system, net, {});
    const double starts = (p.brownout_detector ? p.brownout_threshold : p.minimum_supply).si();
    if (source) alone_[now] = {source->emf, source->emf > starts + p.brownout_hysteresis.si()};
  }

  double starts_ = 0;
  Tick first_ = 0, last_ = 0, looked_ = never;
  bool leapt_ = false;  ///< since the start that was seen last
  std::vector<double> begun_, latest_;
  struct Alone {
    double volts;
    bool starts;  ///< high enough to start
  };
  std::map<Tick, Alone> alone_;  ///< the controller's supply without it, at brown-outs
};

}  // namespace

std::unique_ptr<Detector> detect_loops(const Instrument& instrument, MechanismBook& book) {
  return std::make_unique<LoopDetector>(instrument, book);
}

}  // namespace overwinter
