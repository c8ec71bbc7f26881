#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/mechanisms/themes.hpp"
#include "sim/number_text.hpp"

namespace overwinter {
namespace {

constexpr Tick hour = 3600 * ticks_per_second;
constexpr double notable = 0.10;           // of a day's light, refused because of the cold
constexpr double most = 0.50;              // of a day's light, on which the charger does not start
constexpr double trickle = 0.10;           // of a day's light that is taken, at most
constexpr double some_light = 2.0 / 3600;  // of a day at the nameplate's power: 48 s of full sun

/// Day by day, from the harvest ledger (what each regime of a charger refused of the panels' offer):
///   cold-charge-block   10 % and more of the day's light is refused as too cold
///   weak-light          half of it and more finds the charger asleep, or no more than a tenth is taken while the
///                       charger hangs in drop-out or sleeps; days of hardly any light at all are left out
///   charger-deadlock    the charger would have taken more but for pre-charge, what hangs on it draws the pre-charge
///                       current and more (Kirchhoff's current law), and the cell has not gained
/// The shares are class assumptions: below them another mechanism matters more. What was refused up to a brown-out is
/// known to the hour.
class RefusedChargeDetector final : public Detector {
 public:
  RefusedChargeDetector(const Instrument& instrument, MechanismBook& book, Tick begin)
      : Detector(instrument, book), day_begin_(begin), before_(instrument.diagram().integrals()) {
    for (const HarvestLink& link : instrument.diagram().harvest()) {
      if (link.deciding_part < 0) continue;
      const auto p = static_cast<std::size_t>(link.deciding_part);
      const Panel* panel = instrument.as<Panel>(link.source_part);
      if (!panel || !instrument.as<LinearCharger>(p)) continue;
      Charger& c = chargers_[p];
      c.refused = instrument.diagram().flows() + link.refused;
      c.offered.push_back(link.offered_flow);
      c.taken.push_back(link.taken_flow);
      c.rated += panel->rated_power().si();
    }
    if (!chargers_.empty()) look_at_ = begin + hour;
  }

  void on_look(Tick now, const double* state, Evaluator&) override {
    const double* integral = state + on_.diagram().states();
    for (auto& [p, c] : chargers_) {
      const auto refused = [&](LinearCharger::Regime r) { return integral[c.refused + r]; };
      c.so_far.push_back(
          {now, refused(LinearCharger::too_cold), refused(LinearCharger::asleep), refused(LinearCharger::precharge)});
    }
    look_at_ = now - now % hour + hour;
  }

  void on_day(Tick midnight, const double* integral, Evaluator& system) override {
    const auto of_day = [&](std::size_t i) { return integral[i] - before_[i]; };
    double gained = 0;
    if (on_.cell) gained = of_day(on_.flow(*on_.cell, "charge_in")) - of_day(on_.flow(*on_.cell, "charge_out"));
    for (auto& [p, c] : chargers_) {
      double offered = 0, taken = 0;
      for (const std::size_t i : c.offered) offered += of_day(i);
      for (const std::size_t i : c.taken) taken += of_day(i);
      const auto refused = [&](LinearCharger::Regime r) { return of_day(c.refused + r); };
      look_at_cold(p, refused(LinearCharger::too_cold), offered);
      if (offered >= some_light * ticks_per_day / ticks_per_second * c.rated) {
        look_at_weak(p, refused(LinearCharger::asleep), refused(LinearCharger::drop_out), taken, offered);
      }
      if (refused(LinearCharger::precharge) > 0 && gained <= 0) {
        look_at_deadlock(p, refused(LinearCharger::precharge), offered, system);
      }
    }
    before_.assign(integral, integral + before_.size());
    day_begin_ = midnight;
  }

  std::vector<Shortage> shortages(Tick until) const override {
    Shortage dead{"charger-deadlock", 0}, cold{"cold-charge-block", 0}, weak{"weak-light", 0};
    for (const auto& [p, c] : chargers_) {
      const auto later =
          std::upper_bound(c.so_far.begin(), c.so_far.end(), until, [](Tick t, const Refused& r) { return t < r.at; });
      if (later == c.so_far.begin()) continue;
      cold.joules += (later - 1)->cold;
      weak.joules += (later - 1)->asleep;
      dead.joules += (later - 1)->precharge;
    }
    std::vector<Shortage> all;
    for (const Shortage& s : {dead, cold, weak}) {
      bool present = false;
      for (const auto& [p, c] : chargers_) {
        const MechanismRecord* r = book_.find(s.id, on_.name(p));
        present = present || (r && r->first <= until);
      }
      if (present) all.push_back(s);
    }
    return all;
  }

 private:
  struct Refused {
    Tick at;
    double cold, asleep, precharge;  ///< J since the span's begin
  };
  struct Charger {
    std::size_t refused = 0;                  ///< first of its slots, in the integrals
    std::vector<std::size_t> offered, taken;  ///< of its panels
    double rated = 0;                         ///< W, of its panels
    std::vector<Refused> so_far;
  };

  void look_at_cold(std::size_t p, double cold, double offered) {
    if (!(cold > notable * offered) || offered <= 0) return;
    MechanismRecord& r = book_.file("cold-charge-block", on_.name(p), day_begin_, [&] {
      return MechanismBook::Words{fmt::format("{} refused {} of the day's {} of light: the cell was at or below {}",
                                              on_.name(p), energy_text(cold), energy_text(offered),
                                              quantity_text(on_.as<LinearCharger>(p)->parameters().cold_limit.si(),
                                                            unit_of<Temperature>("degC"))),
                                  {{"refused_J", 0.0}, {"offered_J", 0.0}}};
    });
    add_day(r, cold, offered);
  }

  void look_at_weak(std::size_t p, double asleep, double drop_out, double taken, double offered) {
    const bool sleeps = asleep >= most * offered;
    if (!sleeps && !(taken <= trickle * offered && asleep + drop_out >= most * offered)) return;
    MechanismRecord& r = book_.file("weak-light", on_.name(p), day_begin_, [&] {
      const LinearChargerParameters& c = on_.as<LinearCharger>(p)->parameters();
      return MechanismBook::Words{
          fmt::format(
              "{} took {} of the day's {} of light: {} found it asleep, {} with too little voltage to spare; it "
              "starts above {}, and {} above the cell",
              on_.name(p), energy_text(taken), energy_text(offered), energy_text(asleep), energy_text(drop_out),
              volts(c.input_minimum), volts(c.wake_headroom)),
          {{"refused_J", 0.0}, {"offered_J", 0.0}, {"taken_J", 0.0}}};
    });
    add_day(r, offered - taken, offered);
    r.facts["taken_J"] = r.facts["taken_J"].get<double>() + taken;
  }

  void look_at_deadlock(std::size_t p, double refused, double offered, const Evaluator&) {
    const LinearChargerParameters& c = on_.as<LinearCharger>(p)->parameters();
    const Circuit& netlist = on_.circuit();
    const std::vector<Circuit::Drain> drains = netlist.drains(netlist.net(p, "out"), c.precharge_voltage);
    if (sum(drains) < c.precharge_current) return;
    MechanismRecord& r = book_.file("charger-deadlock", on_.name(p), day_begin_, [&] {
      return MechanismBook::Words{
          fmt::format("{} gives {} of pre-charge, and {} are drawn from its output ({}): the cell gained nothing from "
                      "the day's {} of light",
                      on_.name(p), about(c.precharge_current, "A"), about(sum(drains), "A"), listed(drains),
                      energy_text(offered)),
          {{"precharge_A", c.precharge_current.si()},
           {"standing_load_A", sum(drains).si()},
           {"refused_J", 0.0},
           {"offered_J", 0.0}}};
    });
    add_day(r, refused, offered);
  }

  static void add_day(MechanismRecord& r, double refused, double offered) {
    r.counts = "day";
    r.facts["refused_J"] = r.facts["refused_J"].get<double>() + refused;
    r.facts["offered_J"] = r.facts["offered_J"].get<double>() + offered;
  }

  Tick day_begin_;
  std::vector<double> before_;
  std::map<std::size_t, Charger> chargers_;
};

}  // namespace

std::unique_ptr<Detector> detect_refused_charge(const Instrument& instrument, MechanismBook& book, Tick begin) {
  return std::make_unique<RefusedChargeDetector>(instrument, book, begin);
}

}  // namespace overwinter
