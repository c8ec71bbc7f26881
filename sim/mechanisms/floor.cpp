#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "models/look_up.hpp"
#include "models/storage/capacitor.hpp"
#include "sim/mechanisms/themes.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/number_text.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr Tick hour = 3600 * ticks_per_second;
constexpr double dark = 1e-3;          // of what is lost: no more light than that
constexpr double takes_most = 0.5;     // of what the cell gives
constexpr double notable_idle = 0.25;  // of what the cell gives, as in the design review's converter-always-on
constexpr double listed_share = 0.1;   // of the floor, that has its name in the text

/// Between the supply's going and its coming the instrument sleeps. Where it sleeps in the dark, all that is lost comes
/// out of the cell, flow by flow of the energy ledger. Up to the last completed wake:
///
///   (1) leakage-budget: the floor, what is lost asleep, is more than half of all that the cell gives in the dark
///   (2) E_start = C U^2 / (2 eta)              a start charges what hangs on the converter's output: energy of a
///                                              capacitor, textbook
///   (3) T_even = E_start / P_idle              break-even interval; P_idle = what the converter loses asleep, Iq V
///                                              with its divider
///   (4) converter-always-on: the mean interval between wakes exceeds T_even, the converter has no enable line, and its
///       idling is a quarter and more of what the cell gives (class assumption, as in the design review)
class FloorDetector final : public Detector {
 public:
  FloorDetector(const Instrument& instrument, MechanismBook& book, Tick begin)
      : Detector(instrument, book),
        begin_(begin),
        mark_(begin),
        at_(instrument.diagram().flows()),
        asleep_{at_, 0},
        awake_{at_, 0},
        pending_asleep_{at_, 0},
        pending_awake_{at_, 0} {
    if (instrument.controller) look_at_ = begin + hour;
  }

  void on_happening(const Happening& h, const double* state, Evaluator&) override {
    if (!h.event || !on_.controller) return;
    switch (h.event->role) {
      case EventRole::power_came:
        close(h.time, state + on_.diagram().states(), true);
        powered_ = true;
        break;
      case EventRole::power_gone:
        close(h.time, state + on_.diagram().states(), !powered_);
        powered_ = false;
        break;
      case EventRole::wake_begins:
        powered_ = true;  // one powered since the span's start has not seen power come
        break;
      case EventRole::wake_completed:
        ++wakes_;
        served_until_ = h.time;
        asleep_.take(pending_asleep_);
        awake_.take(pending_awake_);
        break;
      default:
        break;
    }
  }

  /// So that a segment is either dark or not.
  void on_look(Tick now, const double* state, Evaluator&) override {
    look_at_ = now + hour;
    close(now, state + on_.diagram().states(), !powered_);
  }

  void on_leap(const Leap&) override { leapt_ = true; }

  void finish(Tick, const double*, Evaluator& system) override {
    const double floor = lost(asleep_.flows);
    const double given = floor + delivered(asleep_.flows) + lost(awake_.flows) + delivered(awake_.flows);
    if (asleep_.seconds <= 0 || given <= 0 || wakes_ < 2) return;
    if (floor > takes_most * given) file_leakage(floor, given);
    for (const std::size_t p : on_.all<Boost>()) look_at_converter(p, given, system);
  }

  std::vector<Shortage> shortages(Tick until) const override {
    std::vector<Shortage> all;
    const double share = static_cast<double>(until - begin_) / ticks_per_second;
    for (const auto& [id, watt] : watt_) all.push_back({id, watt * share});
    return all;
  }

 private:
  /// Time in the dark, and what the flows came to.
  struct Spell {
    std::vector<double> flows;
    double seconds = 0;
    void take(Spell& other) {
      for (std::size_t i = 0; i < flows.size(); ++i) flows[i] += std::exchange(other.flows[i], 0.0);
      seconds += std::exchange(other.seconds, 0.0);
    }
  };

  /// What has passed since the mark, as time asleep or awake; light that came meanwhile hides what the cell gave, and a
  /// loop that was stepped over is neither.
  void close(Tick now, const double* integral, bool asleep) {
    const std::size_t n = at_.size();
    double source = 0, spent = 0;
    for (const DiagramPart& part : on_.diagram().parts()) {
      for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
        const FlowKind kind = part.table->flows[f].kind;
        const double change = integral[part.flow + f] - at_[part.flow + f];
        if (kind == FlowKind::source) source += change;
        if (kind == FlowKind::lost || kind == FlowKind::delivered) spent += change;
      }
    }
    if (!leapt_ && source <= dark * spent) {
      Spell& into = asleep ? pending_asleep_ : pending_awake_;
      for (std::size_t i = 0; i < n; ++i) into.flows[i] += integral[i] - at_[i];
      into.seconds += static_cast<double>(now - mark_) / ticks_per_second;
    }
    leapt_ = false;
    mark_ = now;
    at_.assign(integral, integral + n);
  }

  template <class Take>
  double summed(const std::vector<double>& flows, Take&& take) const {
    double sum = 0;
    for (const DiagramPart& part : on_.diagram().parts()) {
      for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
        if (take(part.table->flows[f].kind)) sum += flows[part.flow + f];
      }
    }
    return sum;
  }
  double lost(const std::vector<double>& flows) const {
    return summed(flows, [](FlowKind k) { return k == FlowKind::lost; });
  }
  double delivered(const std::vector<double>& flows) const {
    return summed(flows, [](FlowKind k) { return k == FlowKind::delivered; });
  }

  void file_leakage(double floor, double given) {
    struct Share {
      std::string name, part;
      double joules;
    };
    std::vector<Share> shares;
    for (const DiagramPart& part : on_.diagram().parts()) {
      for (std::size_t f = 0; f < part.table->flows.size(); ++f) {
        if (part.table->flows[f].kind != FlowKind::lost) continue;
        shares.push_back(
            {part.name + " " + worded(part.table->flows[f].name), part.name, asleep_.flows[part.flow + f]});
      }
    }
    std::stable_sort(shares.begin(), shares.end(), [](const Share& a, const Share& b) { return a.joules > b.joules; });
    std::vector<std::string> names;
    nlohmann::ordered_json by_flow = nlohmann::ordered_json::object();
    for (const Share& s : shares) {
      if (s.joules < listed_share * floor) break;
      names.push_back(s.name + " " + about(Power{s.joules / asleep_.seconds}, "W"));
      by_flow[s.name] = s.joules / asleep_.seconds;
    }
    const double watt = floor / asleep_.seconds;
    MechanismRecord& r = book_.file("leakage-budget", shares.front().part, begin_, [&] {
      return MechanismBook::Words{fmt::format("asleep {} are lost, {} of what the cell gives in the dark: {}",
                                              about(Power{watt}, "W"), percent_text(floor / given, 0), listed(names)),
                                  {{"floor_W", watt}, {"share", floor / given}, {"by_flow_W", by_flow}}};
    });
    r.counts = "run";
    r.last = served_until_;
    watt_["leakage-budget"] = watt;
  }

  void look_at_converter(std::size_t p, double given, const Evaluator& system) {
    const DiagramPart& part = on_.part(p);
    const BoostParameters& b = on_.as<Boost>(p)->parameters();
    const std::size_t quiescent = on_.flow(p, "quiescent"), conversion = on_.flow(p, "conversion");
    const double idle = (asleep_.flows[quiescent] + asleep_.flows[conversion]) / asleep_.seconds;
    const double idled = idle * (asleep_.seconds + awake_.seconds);
    if (!(idled >= notable_idle * given) || !std::isnan(system.view(p).line[0])) return;
    double charged = b.output_capacitance.si();
    bool switched = false;
    for (std::size_t o = 0; o < on_.diagram().parts().size(); ++o) {
      const std::vector<int>& nets = on_.part(o).nets;
      const bool here = std::count(nets.begin(), nets.end(), on_.net(p, "out")) > 0;
      if (const Capacitor* store = here ? on_.as<Capacitor>(o) : nullptr)
        charged += store->parameters().capacitance.si();
      switched = switched || (here && on_.as<PSwitch>(o));
    }
    if (!switched) return;
    const double in = on_.volts(p, "in", "ground", system), out = b.output_voltage.si();
    const double efficiency = look_up(b.efficiency, in, charged * out / b.soft_start.si());
    const double start = charged * out * out / 2 / efficiency;  // (2)
    const double even = start / idle;                           // (3)
    const double interval =
        static_cast<double>(served_until_ - begin_) / ticks_per_second / static_cast<double>(wakes_);
    if (interval <= even) return;  // (4)
    MechanismRecord& r = book_.file("converter-always-on", part.name, begin_, [&] {
      return MechanismBook::Words{
          fmt::format("{} takes {} for itself asleep, {} of what the cell gives; a start costs {}, as much as {} of "
                      "being on, and a wake comes every {}",
                      part.name, about(Power{idle}, "W"), percent_text(idled / given, 0), energy_text(start),
                      duration_text(even), duration_text(interval)),
          {{"idle_W", idle},
           {"start_J", start},
           {"break_even_s", even},
           {"interval_s", interval},
           {"share", idled / given}}};
    });
    r.counts = "run";
    r.last = served_until_;
    watt_["converter-always-on"] = idle;
  }

  const Tick begin_;
  Tick mark_;
  std::vector<double> at_;
  Spell asleep_, awake_, pending_asleep_, pending_awake_;  ///< pending: since the last completed wake
  Tick served_until_ = 0;
  bool powered_ = false, leapt_ = false;
  std::size_t wakes_ = 0;
  std::map<std::string, double> watt_;  ///< what each mechanism takes
};

}  // namespace

std::unique_ptr<Detector> detect_floor(const Instrument& instrument, MechanismBook& book, Tick begin) {
  return std::make_unique<FloorDetector>(instrument, book, begin);
}

}  // namespace overwinter
