#include <fmt/format.h>

#include <algorithm>

#include "sim/mechanisms/themes.hpp"
#include "sim/number_text.hpp"

namespace overwinter {
namespace {

constexpr double far_under = 0.5;          // of the nameplate's yield: class assumption
constexpr double standard_light = 1000.0;  // W/m2, of the nameplate (IEC 61215)

/// panel-below-rating, day by day and over the run:
///
///   (1) promised = Prated / (1000 W/m2) * integral of G / tau     the nameplate's power in the light on the plane, as
///                                                                 the rule of peak-sun hours has it (common practice)
///   (2) yielded = taken + refused for the cell's sake             what a charger that always accepts would have taken:
///                                                                 all but asleep and drop-out
///   (3) yielded < promised / 2
///
/// tau is the panel's own transmittance (dirt, snow, cover), which the nameplate does not know of.
class PanelDetector final : public Detector {
 public:
  PanelDetector(const Instrument& instrument, MechanismBook& book, const Weather& weather)
      : Detector(instrument, book), weather_(weather), begin_(weather.begin()), day_begin_(weather.begin()) {
    for (const HarvestLink& link : instrument.diagram().harvest()) {
      const Panel* panel = instrument.as<Panel>(link.source_part);
      if (!panel) continue;
      One one;
      one.part = link.source_part;
      one.rated = panel->rated_power().si();
      one.share = 1 / panel->parameters().transmittance;
      one.taken = link.taken_flow;
      one.offered = link.offered_flow;
      if (link.deciding_part >= 0 && instrument.as<LinearCharger>(static_cast<std::size_t>(link.deciding_part))) {
        one.refused = instrument.diagram().flows() + link.refused;
      }
      one.before.assign(instrument.diagram().integrals(), 0.0);
      panels_.push_back(one);
    }
    if (!panels_.empty()) look_at_ = weather.begin();
  }

  /// Once in every weather interval, as light is constant in it.
  void on_look(Tick now, const double*, Evaluator& system) override {
    const auto& intervals = weather_.intervals();
    while (interval_ < intervals.size() && intervals[interval_].end <= now) ++interval_;
    if (interval_ == intervals.size()) {
      look_at_ = never;
      return;
    }
    const double seconds = static_cast<double>(intervals[interval_].end - since_.value_or(now)) / ticks_per_second;
    since_ = intervals[interval_].end;
    look_at_ = *since_ + 1;
    for (One& one : panels_) one.light += on_.output(one.part, "light", system) * one.share * seconds;
  }

  void on_day(Tick midnight, const double* integral, Evaluator&) override {
    for (One& one : panels_) {
      const auto of_day = [&](std::size_t i) { return integral[i] - one.before[i]; };
      const double promised = one.rated / standard_light * (one.light - one.light_before);  // (1)
      double yielded = of_day(one.taken);
      if (one.refused) {  // (2), shared among the panels of one charger by their offers
        double all = 0;
        for (const One& other : panels_) {
          if (other.refused == one.refused) all += integral[other.offered] - other.before_at(other.offered);
        }
        const double share = all > 0 ? of_day(one.offered) / all : 0;
        for (const auto r : {LinearCharger::precharge, LinearCharger::constant_current, LinearCharger::constant_voltage,
                             LinearCharger::complete, LinearCharger::too_cold, LinearCharger::too_hot}) {
          yielded += share * of_day(*one.refused + r);
        }
      }
      one.promised += promised;
      one.yielded += yielded;
      one.days.push_back({day_begin_, midnight, promised, yielded});
    }
    for (One& one : panels_) {
      one.before.assign(integral, integral + one.before.size());
      one.light_before = one.light;
    }
    day_begin_ = midnight;
  }

  void finish(Tick, const double*, Evaluator&) override {
    for (const One& one : panels_) {
      if (!(one.promised > 0) || one.yielded >= far_under * one.promised) continue;  // (3)
      for (const Day& day : one.days) {
        if (day.yielded >= far_under * day.promised || day.promised <= 0) continue;
        book_.file("panel-below-rating", on_.name(one.part), day.begin, [&] { return words(one); }).counts = "day";
      }
    }
  }

  std::vector<Shortage> shortages(Tick until) const override {
    Shortage s{"panel-below-rating", 0};
    for (const One& one : panels_) {
      if (!book_.find(s.id, on_.name(one.part))) continue;
      for (const Day& day : one.days) {
        if (day.end <= until + ticks_per_day) s.joules += std::max(0.0, day.promised - day.yielded);
      }
    }
    if (s.joules > 0) return {s};
    return {};
  }

 private:
  struct Day {
    Tick begin, end;
    double promised, yielded;  ///< J
  };
  struct One {
    std::size_t part = 0;
    double rated = 0, share = 1;  ///< W; 1 / transmittance
    std::size_t taken = 0, offered = 0;
    std::optional<std::size_t> refused;  ///< the first slot of the charger that decides
    std::vector<double> before;          ///< integrals at the day's begin
    double light = 0, light_before = 0;  ///< J/m2 on the plane, before dirt and cover
    double promised = 0, yielded = 0;    ///< J
    std::vector<Day> days;
    double before_at(std::size_t i) const { return before[i]; }
  };

  MechanismBook::Words words(const One& one) const {
    const Panel& panel = *on_.as<Panel>(one.part);
    const double kwh = one.light / 3.6e6, share = one.yielded / one.promised;
    std::string why;
    if (const double tau = panel.parameters().transmittance; tau < 0.9)
      why = fmt::format("; cover and dirt let {:.0f} % of the light through", 100 * tau);
    return {
        fmt::format("{} is rated {} and stood in {:.3g} kWh/m2 of light: {} by its nameplate, {} in the field, {}{}",
                    on_.name(one.part), about(Power{one.rated}, "W"), kwh, energy_text(one.promised),
                    energy_text(one.yielded), percent_text(share, 0), why),
        {{"rated_W", one.rated},
         {"light_kWh_m2", kwh},
         {"promised_J", one.promised},
         {"yielded_J", one.yielded},
         {"share", share}}};
  }

  const Weather& weather_;
  const Tick begin_;
  Tick day_begin_;
  std::size_t interval_ = 0;
  std::optional<Tick> since_;  ///< up to when the light has been counted
  std::vector<One> panels_;
};

}  // namespace

std::unique_ptr<Detector> detect_panels(const Instrument& instrument, MechanismBook& book, const Weather& weather) {
  return std::make_unique<PanelDetector>(instrument, book, weather);
}

}  // namespace overwinter
