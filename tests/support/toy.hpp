// A part without physics, for tests of what carries parts: its table is whatever the test says, its states grow by one
// a second, and its only pin is a resistor to ground. A fast state is a capacitor at that pin, in a transient only.
#pragma once

#include <cmath>
#include <functional>
#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "models/table.hpp"
#include "sim/netlist/scenario.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter::test {

/// A station on the equator at the standard time of UTC; `light` (W/m2) of an hour of the year, 0...8759.
template <class Light>
StationYear station_year(Light&& light) {
  StationYear year;
  year.place = "Test station";
  for (std::size_t h = 0; h < hours_per_year; ++h) {
    StationRecord r;
    r.air_celsius = 10;
    r.global_horizontal = light(h);
    r.diffuse_horizontal = r.global_horizontal;
    r.beam_normal = std::nan("");
    year.hours.push_back(r);
  }
  year.source_years = {2001};
  return year;
}

/// Nights from 2025-03-01 on.
inline Weather dark(int days_long) {
  return Weather(station_year([](std::size_t) { return 0.0; }), Site{}, {2025, 3, 1}, {2025, 3, days_long});
}

class Toy final : public NetworkModel<Toy, 1, 0> {
 public:
  struct Store {
    double farad = 1e-6, ohm = 1;
    double off = 0;  ///< V, against its net as a transient begins
  };

  explicit Toy(ModelTable table) : table_(std::move(table)) {
    table_.pins = {{"a", "", PinRole::power}};
    if (table_.states.empty()) table_.states.push_back({"seconds", unit_of<Duration>("s"), 1.0, ""});
  }
  const ModelTable& table() const override { return table_; }
  void rates(const View& view, double* dxdt) const override {
    for (std::size_t i = 0; i < table_.states.size(); ++i) {
      dxdt[i] = table_.states[i].fast ? into_store(view, i, view.z[0]) / store.farad : 1;
    }
  }
  void enter_transient(const View& view, Writable& w, double*) const override {
    for (std::size_t i = 0; i < table_.states.size(); ++i) {
      if (table_.states[i].fast) w.x[i] = view.z[0] + store.off;
    }
  }
  void flows(const View&, double*) const override {}
  void start(const Ambient&, Writable& w) const override {
    if (begins) begins(w);
  }
  template <class T>
  void equations(const View& view, const T* z, T* f) const {
    f[0] = z[0] * 1e-3;
    for (std::size_t i = 0; i < table_.states.size(); ++i) {
      if (table_.states[i].fast) f[0] = f[0] + into_store(view, i, z[0]);
    }
  }
  std::function<void(Writable&)> begins;
  Store store;

 private:
  template <class T>
  T into_store(const View& view, std::size_t state, const T& v) const {
    if (!view.transient) return T(0.0);
    return (v - view.x[state]) * (1 / store.ohm);
  }

  ModelTable table_;
};

inline Event when(std::string name, std::function<double(const Model&, const View&)> guard,
                  std::function<void(const Model&, const View&, Writable&)> reset = nullptr) {
  Event e;
  e.name = std::move(name);
  e.guard = std::move(guard);
  e.reset = std::move(reset);
  return e;
}

inline Event at_alarm(std::string name, int alarm, std::function<void(const Model&, const View&, Writable&)> reset) {
  Event e;
  e.name = std::move(name);
  e.alarm = alarm;
  e.reset = std::move(reset);
  return e;
}

/// One whose alarm comes after the seconds given, steps its load and finds so much charge missing (C).
inline std::shared_ptr<Toy> stepping_toy(double seconds, double missing_charge, Toy::Store store = {}) {
  ModelTable t;
  State fast{"store", unit_of<Voltage>("V"), 1.0, ""};
  fast.fast = true;
  t.states.push_back(fast);
  t.alarms = 1;
  t.missing_charge = [missing_charge](const Model&, const View&) { return missing_charge; };
  t.events.push_back(at_alarm("steps", 0, [](const Model&, const View&, Writable& w) { w.alarm[0] = never; }));
  t.events.back().load_step = true;
  auto toy = std::make_shared<Toy>(std::move(t));
  toy->store = store;
  toy->begins = [seconds](Writable& w) {
    w.x[0] = 0;
    w.alarm[0] = w.now.utc + static_cast<Tick>(seconds * ticks_per_second);
  };
  return toy;
}

/// Toys on one net.
inline Scenario toys(const std::vector<std::pair<std::string, std::shared_ptr<const Toy>>>& parts) {
  Scenario s;
  ScenarioNet net;
  net.name = "net";
  for (const auto& [name, toy] : parts) {
    net.pins.push_back({s.parts.size(), 0});
    s.parts.push_back({name, "", &toy->table(), toy, {}});
  }
  s.nets.push_back(std::move(net));
  return s;
}

}  // namespace overwinter::test
