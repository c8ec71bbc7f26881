#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <set>

#include "models/paths/power_monitor.hpp"
#include "models/paths/resistor.hpp"
#include "sim/mechanisms/surroundings.hpp"
#include "sim/mechanisms/themes.hpp"
#include "sim/netlist/feeds.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr Tick same_loop = 600 * ticks_per_second;  // within it, the first cut's physics stands for the next
constexpr double spare = 0.05;                      // V, with which the cell must bear the load without the way
constexpr double named = 0.2;                       // of the drop, that a part of the way must have to be named
constexpr int halvings = 12;

/// A lockout or brown-out of a part that is fed straight from the cell, through wires, shunts, switches and a
/// protector, judged by the network at that moment (surroundings.hpp):
///
///   (1) sum of i(V) <= 0       path-drop: with all nets of the way held 50 mV above the part's threshold, so that
///                              nothing drops on it, the cell gives what everything else there draws, and more
///                              (Kirchhoff's current law). Less to spare is a matter of days: where a cell that runs
///                              down comes to a threshold, any lead decides on the hour (class assumption)
///   (2) V(s') >= V             s' the least charge with which the network as it is keeps the threshold, by bisection;
///                              none where a full cell does not. What it lacks is (s' - s) Q U, U its terminal voltage
///
/// Of two causes that would each have to go, the way's resistance is the one at this charge: only where the cell itself
/// has too little left, what emptied it is asked for.
class PathDetector final : public Detector {
 public:
  PathDetector(const Instrument& instrument, MechanismBook& book) : Detector(instrument, book) {
    for (std::size_t p = 0; p < on_.diagram().parts().size(); ++p) {
      const DiagramPart& part = on_.part(p);
      const Resistor* resistor = on_.as<Resistor>(p);
      const bool wire = resistor && resistor->parameters().resistance <= wire_at_most;
      if (!wire && !on_.as<PowerMonitor>(p) && !on_.as<PSwitch>(p) && !on_.as<Protector>(p)) continue;
      if (part.nets[0] >= 0 && part.nets[1] >= 0) pieces_.push_back(p);
    }
  }

  void on_happening(const Happening& h, const double*, Evaluator& system) override {
    if (!h.event || !on_.cell) return;
    if (h.event->role != EventRole::cut && h.event->role != EventRole::brown_out) return;
    const std::size_t p = on_.index(*h.part);
    if (on_.as<Protector>(p) || system.view(p).transient) return;  // protector.cpp, inrush.cpp
    const auto known = last_.find(p);
    const bool again = known != last_.end() && h.time - known->second.at < same_loop;
    Last now = again ? known->second : Last{h.time, judge(p, h, system)};
    now.at = h.time;
    last_[p] = now;
    if (!now.judged.known) return;
    judged_[{h.time, on_.name(p)}] = now.judged;
    if (now.judged.way) book_.file("path-drop", on_.name(p), h.time, [&] { return now.judged.words; });
  }

  void on_leap(const Leap& leap) override {
    for (auto& [p, last] : last_) {
      MechanismRecord* r = last.judged.way ? book_.find("path-drop", on_.name(p)) : nullptr;
      if (!r || leap.begin - last.at >= same_loop) continue;
      for (const Leap::Part* part : {&leap.first, &leap.then}) {
        for (const CycleEvent& e : part->events) {
          const EventRole role = on_.part(e.part).table->events[e.event].role;
          if (e.part == p && (role == EventRole::cut || role == EventRole::brown_out)) r->count += part->times;
        }
      }
      r->last = last.at = leap.end;
    }
  }

  std::string explains(const BrownOut& b) const override {
    const Judged* j = of(b);
    return j && j->way ? "path-drop" : std::string();
  }

  std::optional<double> needed(const BrownOut& b) const override {
    const Judged* j = of(b);
    return j ? std::optional(j->needed) : std::nullopt;
  }

 private:
  struct Judged {
    bool known = false, way = false;
    double needed = 0;  ///< J
    MechanismBook::Words words;
  };
  struct Last {
    Tick at;
    Judged judged;
  };
  /// The way from the cell to a net: its nets, and the parts on it from the net to the cell.
  struct Way {
    std::vector<int> nets;
    std::vector<std::size_t> parts;
  };

  const Judged* of(const BrownOut& b) const {
    const auto found = judged_.find({b.chain.front().time, b.chain.front().part});
    return found == judged_.end() ? nullptr : &found->second;
  }

  /// Empty where no way of conducting parts leads there.
  Way way_to(int net, const Evaluator& system) const {
    const int cell = on_.net(*on_.cell, "plus");
    Way way;
    way.nets = {cell};
    std::map<int, std::size_t> towards_cell;
    for (std::size_t n = 0; n < way.nets.size(); ++n) {
      for (const std::size_t p : pieces_) {
        const int a = on_.part(p).nets[0], b = on_.part(p).nets[1];
        if (a != way.nets[n] && b != way.nets[n]) continue;
        const int other = a == way.nets[n] ? b : a;
        if (std::count(way.nets.begin(), way.nets.end(), other)) continue;
        if (on_.as<PSwitch>(p) && on_.label(p, "conducting", system) == "off") continue;
        way.nets.push_back(other);
        towards_cell[other] = p;
      }
    }
    if (!std::count(way.nets.begin(), way.nets.end(), net)) return {};
    for (int at = net; at != cell;) {
      const std::size_t p = towards_cell.at(at);
      way.parts.push_back(p);
      at = on_.part(p).nets[0] == at ? on_.part(p).nets[1] : on_.part(p).nets[0];
    }
    return way;
  }

  Judged judge(std::size_t p, const Happening& h, const Evaluator& system) const {
    const std::vector<Margin>& margins = on_.part(p).table->margins;
    if (margins.empty() || on_.net(*on_.cell, "minus") >= 0) return {};
    const Margin& margin = margins.front();
    const int net = on_.net(p, margin.pin);
    if (net < 0) return {};
    const double threshold = margin.threshold(system.model(p));
    const Way way = way_to(net, system);
    if (way.nets.empty()) return {};
    Judged j;
    j.known = true;
    j.needed = needed(net, threshold, system);
    if (way.parts.empty()) return j;
    Surroundings::Held held;
    for (const int n : way.nets) held.emplace_back(n, threshold + spare);
    const auto drawn = Surroundings(on_.diagram(), Surroundings::nothing).drawn(system, held);
    j.way = drawn && *drawn <= 0;  // (1)
    if (j.way) j.words = words(p, net, threshold, way, h, system);
    return j;
  }

  /// (2), J.
  double needed(int net, double threshold, const Evaluator& system) const {
    const std::size_t c = *on_.cell;
    const double now = system.view(c).x[Cell::charge], full = on_.as<Cell>(c)->parameters().capacity.si();
    Surroundings around(on_.diagram(), Surroundings::nothing);
    const auto keeps = [&](double charge) {
      around.suppose(c, Cell::charge, charge);
      return around.volts(system, net).value_or(0) >= threshold;
    };
    if (now >= full || !keeps(full)) return std::numeric_limits<double>::infinity();
    double low = now, high = full;
    for (int i = 0; i < halvings; ++i) (keeps((low + high) / 2) ? high : low) = (low + high) / 2;
    return (low - now) * on_.output(c, "voltage", system);
  }

  MechanismBook::Words words(std::size_t p, int net, double threshold, const Way& way, const Happening& h,
                             const Evaluator& system) const {
    const auto volts = [&](int n) { return system.net_voltage(static_cast<std::size_t>(n)); };
    const double cell = volts(on_.net(*on_.cell, "plus")), drop = cell - volts(net),
                 amperes = -on_.output(*on_.cell, "current", system);
    std::vector<std::pair<double, std::string>> drops;
    for (const std::size_t piece : way.parts) {
      const double of_piece = std::abs(volts(on_.part(piece).nets[0]) - volts(on_.part(piece).nets[1]));
      if (of_piece >= named * drop) drops.emplace_back(of_piece, on_.name(piece) + " " + about(Voltage{of_piece}, "V"));
    }
    std::sort(drops.rbegin(), drops.rend());
    std::vector<std::string> parts;
    nlohmann::ordered_json of_parts = nlohmann::ordered_json::array();
    for (const auto& [size, text] : drops) parts.push_back(text);
    for (const std::size_t piece : way.parts) of_parts.push_back(on_.name(piece));
    return {
        fmt::format("{} came at {}: of the cell's {} the way to {} drops {} at {}{}, of which {}; with nothing on the "
                    "way the cell would have held it above {}",
                    h.event->name, about(Voltage{volts(net)}, "V"), about(Voltage{cell}, "V"), on_.name(p),
                    about(Voltage{drop}, "V"), about(Current{amperes}, "A"), on_.during(system), listed(parts),
                    about(Voltage{threshold}, "V")),
        {{"drop_V", drop}, {"cell_V", cell}, {"threshold_V", threshold}, {"current_A", amperes}, {"way", of_parts}}};
  }

  std::vector<std::size_t> pieces_;
  std::map<std::size_t, Last> last_;
  std::map<std::pair<Tick, std::string>, Judged> judged_;
};

}  // namespace

std::unique_ptr<Detector> detect_path_drop(const Instrument& instrument, MechanismBook& book) {
  return std::make_unique<PathDetector>(instrument, book);
}

}  // namespace overwinter
