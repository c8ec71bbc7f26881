#include "models/hiccup.hpp"

#include <cmath>

#include "models/ticks.hpp"

namespace overwinter {

void Hiccup::forget(Writable& w) const {
  std::fill_n(w.x + at_.state, static_cast<int>(state_count), 0.0);
  w.memory[at_.memory] = 0;
  w.alarm[at_.steady_alarm] = never;
  w.alarm[at_.hold_alarm] = never;
}

void Hiccup::begin_cycle(Writable& w) const {
  w.x[at_.state + cycle_time] = 0;
  w.x[at_.state + cycle_charge] = 0;
  w.alarm[at_.steady_alarm] = w.now.utc + ticks(p_.hiccup_window);
  w.alarm[at_.hold_alarm] = never;
}

bool Hiccup::start_is_replaced(const View& before, Writable& w) const {
  const double* x = before.x + at_.state;
  if (before.memory[at_.memory] <= p_.hiccup_limit || !(x[cycle_time] > 0)) {
    w.memory[at_.memory] = std::min(before.memory[at_.memory], p_.hiccup_limit) + 1;
    begin_cycle(w);
    return false;
  }
  w.x[at_.state + period] = x[cycle_time];                             // (h1)
  w.x[at_.state + average_current] = x[cycle_charge] / x[cycle_time];  // (h2)
  w.alarm[at_.steady_alarm] = never;
  w.alarm[at_.hold_alarm] = w.now.utc + ticks(p_.hiccup_hold);
  return true;
}

void Hiccup::try_again(Writable& w) const { begin_cycle(w); }

void Hiccup::rates(const View& view, bool averaged, double input_current, double* dxdt) const {
  const bool counting = view.memory[at_.memory] > 0 && !averaged;
  dxdt[at_.state + cycle_time] = counting ? 1.0 : 0.0;
  dxdt[at_.state + cycle_charge] = counting ? input_current : 0.0;
  dxdt[at_.state + average_current] = 0;
  dxdt[at_.state + period] = 0;
}

double Hiccup::cycles_per_second(const View& view) const {
  const double seconds = view.x[at_.state + period];
  return seconds > 0 ? 1 / seconds : 0;  // (h3)
}

void check_hiccup(const HiccupParameters& p, Duration retry, std::vector<Finding>& findings) {
  if (!(retry < p.hiccup_window)) {
    findings.push_back({"hiccup_window", "the next start would always come too late to count as a failed cycle",
                        "choose a value well above retry"});
  }
  if (!(retry < p.hiccup_hold)) {
    findings.push_back({"hiccup_hold", "the averaged regime would be shorter than the cycles it stands for",
                        "choose a value well above retry"});
  }
}

}  // namespace overwinter
