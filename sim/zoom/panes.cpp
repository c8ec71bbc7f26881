#include "sim/zoom/panes.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <tuple>

namespace overwinter {

namespace {

constexpr double visible_change = 1.0 / 500, visible_share = 1e-5, visible_share_of_others = 1e-3;

/// What shares a pane has the same key; panes are in the order of the keys.
std::tuple<int, std::string> key_of(const Signal& s) {
  switch (s.kind) {
    case Signal::Kind::voltage:
      return {0, s.unit.text};
    case Signal::Kind::current:
      return {1, s.unit.text};
    case Signal::Kind::logic:
    case Signal::Kind::regime:
      return {2, ""};
    default:
      return {3, s.unit.text};
  }
}

std::string title_of(const Signal& s) {
  const std::string unit = s.unit.text == "1" ? "plain numbers" : s.unit.text;
  switch (s.kind) {
    case Signal::Kind::voltage:
      return "Voltages, " + unit;
    case Signal::Kind::current:
      return "Currents, " + unit;
    case Signal::Kind::logic:
    case Signal::Kind::regime:
      return "Logic levels and regimes";
    default:
      return "Other quantities, " + unit;
  }
}

bool has_threshold(const Waveforms& w, std::size_t signal) {
  return std::any_of(w.thresholds.begin(), w.thresholds.end(), [&](const Threshold& t) { return t.signal == signal; });
}

bool same_course(const Waveforms& w, std::size_t a, std::size_t b) {
  for (std::size_t row = 0; row < w.times.size(); ++row) {
    if (w.value(row, a) == w.value(row, b)) continue;
    if (written_value(w.value(row, a), w.signals[a]) != written_value(w.value(row, b), w.signals[b])) return false;
  }
  return true;
}

}  // namespace

std::vector<Extent> extents(const Waveforms& w) {
  std::vector<Extent> all;
  struct Scale {
    double change = 0, value = 0;
  };
  std::map<std::tuple<int, std::string>, Scale> scales;
  for (std::size_t s = 0; s < w.signals.size(); ++s) {
    Extent e;
    for (std::size_t row = 1; row < w.times.size(); ++row) {
      if (w.value(row, s) < w.value(e.least_row, s)) e.least_row = row;
      if (w.value(row, s) > w.value(e.most_row, s)) e.most_row = row;
    }
    e.least = written_value(w.value(e.least_row, s), w.signals[s]);
    e.most = written_value(w.value(e.most_row, s), w.signals[s]);
    Scale& scale = scales[key_of(w.signals[s])];
    scale.change = std::max(scale.change, e.most - e.least);
    scale.value = std::max({scale.value, std::abs(e.most), std::abs(e.least)});
    all.push_back(e);
  }
  for (std::size_t s = 0; s < w.signals.size(); ++s) {
    const Scale& scale = scales[key_of(w.signals[s])];
    const double change = all[s].most - all[s].least;
    const double share = w.signals[s].kind == Signal::Kind::other ? visible_share_of_others : visible_share;
    all[s].moves =
        w.signals[s].holds() ? change > 0 : change > visible_change * scale.change && change > share * scale.value;
  }
  return all;
}

std::vector<Pane> panes(const Waveforms& w, const std::vector<Extent>& extents) {
  std::map<std::tuple<int, std::string>, Pane> sorted;
  for (std::size_t s = 0; s < w.signals.size(); ++s) {
    Pane& pane = sorted[key_of(w.signals[s])];
    pane.title = title_of(w.signals[s]);
    pane.lanes = w.signals[s].holds();
    if (!extents[s].moves) {
      pane.still.push_back(s);
    } else if (const auto twin = std::find_if(pane.moving.begin(), pane.moving.end(),
                                              [&](std::size_t other) { return same_course(w, s, other); });
               twin != pane.moving.end() && !pane.lanes && !has_threshold(w, s)) {
      pane.alike.push_back({s, *twin});
    } else {
      pane.moving.push_back(s);
    }
  }
  std::vector<Pane> all;
  for (const auto& [key, pane] : sorted) all.push_back(pane);
  return all;
}

}  // namespace overwinter
