#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/loads/load.hpp"
#include "models/look_up.hpp"
#include "sim/mechanisms/surroundings.hpp"
#include "sim/mechanisms/themes.hpp"
#include "sim/service/feeding.hpp"

namespace overwinter {
namespace {

constexpr Tick same_loop = 600 * ticks_per_second;  // within it, the first cut's physics stands for the next
constexpr double holds_rail = 0.97;                 // of the set-point, as in the converter's own limit event

/// A converter that stopped feeding or could not feed enough, judged by the network at that moment (surroundings.hpp):
///
///   (1) P = U I / eta(V, I)        what the loads ask of its input: I drawn from a rail that stands at the set-point
///   U,
///                                  V the input's threshold; while it starts, C (U^2 - U0^2) / (2 eta tss)
///   (2) P > Pmax                   constant-power-collapse; Pmax = E^2 / (4 R) behind a cell (surroundings.hpp (4))
///   (3) P / V > Ilim               converter-limit: the average input current limit comes first
///   (4) U > V / (1 - Dmax)         converter-limit: the largest duty (models/converters/boost.hpp (1))
///   (5) E' > Uon                   lockout-hiccup, where it has happened twice: the input rises past the lockout's
///                                  hysteresis once the load is shed, so that what was too low was E - R I and not E.
///                                  E' = E with the cell's pairs at rest, since it may wait for that
///
/// (5): limit cycle of two-point control, derived; the hysteresis that avoids it is above E' - Uoff, about R I.
class ConverterDetector final : public Detector {
 public:
  ConverterDetector(const Instrument& instrument, MechanismBook& book)
      : Detector(instrument, book), feeding_(instrument.diagram()) {}

  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    if (!h.event) {
      collapse(h, system);
      return;
    }
    if (h.event->role == EventRole::brown_out) look_at_duty(h, system);
    if (h.event->role == EventRole::wake_completed) once_.clear();
    if (h.event->role != EventRole::cut && h.event->role != EventRole::limit) return;
    const std::size_t p = on_.index(*h.part);
    if (!on_.as<Boost>(p) || seen_.count({h.time, p})) return;  // of a lockout and a limit at once the lockout tells
    if (system.view(p).transient) return;                       // the settled network would have borne it: inrush.cpp
    if (!feeding_.fed(on_.net(p, "in"), system)) return;        // switched off, it runs down
    const Judged judged = judge(p, h, system);
    last_[p] = {h.time, judged.id, h.event->role};
    if (judged.id.empty()) {
      if (!judged.words.text.empty()) remarks_[{h.time, on_.name(p)}] = judged.words.text;
      return;
    }
    if (judged.id == "lockout-hiccup" && !repeats(p, h.time, judged)) return;
    file(p, h.time, judged);
  }

  /// A lockout is told in a leap; a limit is not, and counts with the brown-outs that follow from it.
  void on_leap(const Leap& leap) override {
    for (auto& [p, last] : last_) {
      MechanismRecord* r = last.id.empty() ? nullptr : book_.find(last.id, on_.name(p));
      if (!r || leap.begin - last.at >= same_loop) continue;
      double times = 0;
      for (const Leap::Part* part : {&leap.first, &leap.then}) {
        for (const CycleEvent& e : part->events) {
          const EventRole role = on_.part(e.part).table->events[e.event].role;
          const bool counts =
              last.role == EventRole::cut ? e.part == p && role == EventRole::cut : role == EventRole::brown_out;
          if (counts) times += part->times;
        }
      }
      if (times == 0) continue;
      r->count += times;
      r->last = leap.end;
      last.at = leap.end;
    }
  }

  std::string explains(const BrownOut& b) const override {
    const ChainLink& first = b.chain.front();
    for (const auto& [place, id] : seen_) {
      const auto& [time, p] = place;
      const bool here = first.part == (p == network ? std::string() : on_.name(p));
      if (time == first.time && here) return id;
    }
    return {};
  }

  std::string remark(const BrownOut& b) const override {
    const auto found = remarks_.find({b.chain.front().time, b.chain.front().part});
    return found == remarks_.end() ? std::string() : found->second;
  }

 private:
  static constexpr std::size_t network = static_cast<std::size_t>(-1);

  struct Judged {
    std::string id;
    MechanismBook::Words words;
  };

  void file(std::size_t p, Tick at, const Judged& judged) {
    book_.file(judged.id, on_.name(p), at, [&] { return judged.words; });
    seen_[{at, p}] = judged.id;
  }

  /// One lockout is none; at the second one before a wake is completed the first one is filed too.
  bool repeats(std::size_t p, Tick at, const Judged& judged) {
    const auto [first, new_one] = once_.try_emplace(p, at, judged);
    if (new_one) return false;
    if (first->second.first != never) file(p, first->second.first, first->second.second);
    first->second.first = never;
    return true;
  }

  Judged judge(std::size_t p, const Happening& h, const Evaluator& system) {
    const auto known = last_.find(p);
    if (known != last_.end() && known->second.role == h.event->role && h.time - known->second.at < same_loop) {
      return {known->second.id, {}};
    }
    const BoostParameters& b = on_.as<Boost>(p)->parameters();
    const int in = on_.net(p, "in"), out = on_.net(p, "out");
    if (in < 0 || out < 0 || on_.net(p, "ground") >= 0) return {};
    const double rail = b.output_voltage.si(), off = b.lockout.si(), rises = off + b.lockout_hysteresis.si();
    const Surroundings around(on_.diagram(), p);
    const auto source = around.source(system, in, {{out, rail}});
    // An empty source, or one that is cut off: it could not even keep the converter idle.
    if (!source || source->emf <= off || source->largest < off * b.quiescent_enabled.si()) return {};
    const bool starts = on_.label(p, "regime", system) == "starting";
    const std::optional<double> load = around.drawn(system, out, {{in, off}, {out, rail}});
    if (!load && !starts) return {};
    const double demand = starts ? start_power(b, off) : rail * *load / look_up(b.efficiency, off, *load);  // (1)
    const double input = on_.volts(p, "in", "ground", system), limit = b.current_limit.si();
    const std::string asks = fmt::format("{}{} asks for {} at its input", on_.name(p), starts ? ", starting," : "",
                                         about(Power{demand}, "W")) +
                             on_.during(system);
    const std::string behind = source->straight
                                   ? fmt::format("{} behind {}", about(Voltage{source->emf}, "V"),
                                                 about(Resistance{source->resistance}, "ohm"))
                                   : fmt::format("a source of {} at most", about(Voltage{source->emf}, "V"));
    const nlohmann::ordered_json facts = {{"demand_W", demand},
                                          {"emf_V", source->emf},
                                          {"resistance_ohm", source->resistance},
                                          {"largest_W", source->largest},
                                          {"lockout_V", off}};
    if (demand > source->largest) {  // (2)
      return {"constant-power-collapse",
              {fmt::format("{}, but {} gives no more than {}{}", asks, behind, about(Power{source->largest}, "W"),
                           source->straight ? " (E^2/4R)" : ""),
               facts}};
    }
    const bool limited = h.event->role == EventRole::limit;
    if (demand > limit * off && (!limited || input >= off)) {  // (3)
      const double most = limit * input * look_up(b.efficiency, input, limit * input / rail);
      nlohmann::ordered_json numbers = facts;
      numbers["current_limit_A"] = limit;
      numbers["input_V"] = input;
      numbers["most_out_W"] = most;
      return {"converter-limit",
              {fmt::format("{}, {} of load, but its current limit of {} at {} lets {} through", asks,
                           about(Power{rail * load.value_or(0)}, "W"), about(Current{limit}, "A"),
                           about(Voltage{input}, "V"), about(Power{most}, "W")),
               numbers}};
    }
    if (limited) return {};
    const double rested = source->emf - pairs(system);
    if (rested <= rises) {  // (5)
      const double loaded = (source->emf + std::sqrt(source->emf * source->emf - 4 * source->resistance * demand)) / 2;
      if (!source->straight || loaded > off) return {};
      return {"",
              {fmt::format("{}, and {} leaves {} of the cell's voltage there, below the lockout of {}", asks, behind,
                           about(Voltage{loaded}, "V"), about(b.lockout, "V")),
               {}}};
    }
    nlohmann::ordered_json numbers = facts;
    numbers["hysteresis_V"] = b.lockout_hysteresis.si();
    numbers["rise_V"] = rested - off;
    return {"lockout-hiccup",
            {fmt::format("{}, from {}: with the load gone the input rises by {} above the lockout of {}, more than its "
                         "hysteresis of {}, and it starts again",
                         asks, behind, about(Voltage{rested - off}, "V"), about(b.lockout, "V"),
                         about(b.lockout_hysteresis, "V")),
             numbers}};
  }

  /// Of (1), models/converters/boost.hpp (7).
  static double start_power(const BoostParameters& b, double in) {
    const double set = b.output_voltage.si(), time = b.soft_start.si(), c = b.output_capacitance.si();
    const double before = b.output_disconnect ? 0.0 : std::max(0.0, in - b.rectifier_drop.si());
    return c * (set * set - before * before) / (2 * time) / look_up(b.efficiency, in, c * set / time);
  }

  /// What the cell's voltage will rise by when it rests, negative: of its pairs.
  double pairs(const Evaluator& system) const {
    if (!on_.cell) return 0;
    const double* x = system.view(*on_.cell).x;
    return std::min(0.0, x[Cell::pair_1] + x[Cell::pair_2]);
  }

  /// (4), where the controller browns out and nothing else has happened to the converter.
  void look_at_duty(const Happening& h, const Evaluator& system) {
    for (const std::size_t p : on_.all<Boost>()) {
      const BoostParameters& b = on_.as<Boost>(p)->parameters();
      if (on_.label(p, "regime", system) != "on") continue;
      const double in = on_.volts(p, "in", "ground", system), set = b.output_voltage.si();
      const double reach = in / (1 - b.maximum_duty);
      if (in < b.lockout.si() || reach >= holds_rail * set || on_.volts(p, "out", "ground", system) >= holds_rail * set)
        continue;
      book_.file("converter-limit", on_.name(p), h.time, [&] {
        return MechanismBook::Words{fmt::format("{} cannot hold {} from {}: its largest duty of {:.0f} % reaches {}",
                                                on_.name(p), about(b.output_voltage, "V"), about(Voltage{in}, "V"),
                                                100 * b.maximum_duty, about(Voltage{reach}, "V")),
                                    {{"input_V", in}, {"reach_V", reach}, {"output_V", set}}};
      });
      seen_[{h.time, on_.index(*h.part)}] = "converter-limit";
    }
  }

  /// The network itself lost its operating point: by a part that asks for constant power and has less than its supply
  /// range now. A net that runs down can lose its branch without one.
  void collapse(const Happening& h, const Evaluator& system) {
    for (std::size_t p = 0; p < on_.diagram().parts().size(); ++p) {
      if (!asks_for_power(p, system)) continue;
      book_.file("constant-power-collapse", on_.name(p), h.time, [&] {
        return MechanismBook::Words{
            fmt::format("{} asks for constant power, and no operating point was left: {}", on_.name(p), h.what), {}};
      });
      seen_[{h.time, network}] = "constant-power-collapse";
    }
  }

  bool asks_for_power(std::size_t p, const Evaluator& system) const {
    if (const Boost* b = on_.as<Boost>(p)) {
      return on_.label(p, "regime", system) == "on" &&
             on_.volts(p, "in", "ground", system) < b->parameters().lockout.si();
    }
    if (const Load* l = on_.as<Load>(p)) {
      const double volts = on_.volts(p, "plus", "minus", system);
      return l->parameters().kind == LoadKind::power && volts > 0 && volts < l->parameters().minimum_supply.si() &&
             on_.output(p, "current", system) > 0;
    }
    return false;
  }

  struct Last {
    Tick at;
    std::string id;
    EventRole role;
  };
  const Feeding feeding_;
  std::map<std::size_t, Last> last_;  ///< cut or limit of each converter
  std::map<std::size_t, std::pair<Tick, Judged>>
      once_;  ///< a first lockout that may begin a hiccup; `never` once filed
  std::map<std::pair<Tick, std::size_t>, std::string> seen_;
  std::map<std::pair<Tick, std::string>, std::string> remarks_;  ///< of lockouts that none of them is
};

}  // namespace

std::unique_ptr<Detector> detect_converters(const Instrument& instrument, MechanismBook& book) {
  return std::make_unique<ConverterDetector>(instrument, book);
}

}  // namespace overwinter
