#include "sim/zoom/zoom_data.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <iterator>
#include <utility>

namespace overwinter {

namespace {

/// A power of ten, so that its multiples are written with few digits.
double scale_of(const Extent& e, bool whole) {
  constexpr double steps = 1e5;
  const double size = e.most > e.least ? e.most - e.least : std::abs(e.most);
  if (whole || size == 0) return 1;
  return std::pow(10.0, std::ceil(std::log10(steps / size)));
}

void put_steps(fmt::memory_buffer& json, const Waveforms& w, std::size_t signal, double scale) {
  const auto to = std::back_inserter(json);
  std::int64_t before = 0;
  std::size_t still = 0;
  const char* comma = "";
  const auto end_still = [&] {
    if (still > 0) fmt::format_to(to, "{}0,{}", std::exchange(comma, ","), std::exchange(still, 0));
  };
  for (std::size_t row = 0; row < w.times.size(); ++row) {
    const std::int64_t now = std::llround(written_value(w.value(row, signal), w.signals[signal]) * scale);
    if (now == before) {
      ++still;
      continue;
    }
    end_still();
    fmt::format_to(to, "{}{}", std::exchange(comma, ","), now - before);
    before = now;
  }
  end_still();
}

/// Its place, which is at the end if it was not there.
template <class Items, class Same, class Item>
std::size_t place_in(Items& items, Same same, Item item) {
  const auto found = std::find_if(items.begin(), items.end(), same);
  const auto place = static_cast<std::size_t>(found - items.begin());
  if (found == items.end()) items.push_back(std::move(item));
  return place;
}

struct Placed {
  std::size_t lane, event;
};

Placed place(std::vector<MarkLane>& lanes, const Mark& m) {
  const std::string group = m.group();
  const std::size_t lane = place_in(
      lanes, [&](const MarkLane& l) { return l.group == group; }, MarkLane{group, {}});
  auto& events = lanes[lane].events;
  return {lane, place_in(
                    events, [&](const std::string& e) { return e == m.event; }, m.event)};
}

}  // namespace

std::vector<MarkLane> mark_lanes(const Waveforms& w) {
  std::vector<MarkLane> lanes;
  for (const Mark& m : w.marks) place(lanes, m);
  return lanes;
}

std::string zoom_data(const Waveforms& w, const std::vector<Extent>& extents) {
  fmt::memory_buffer json;
  const auto to = std::back_inserter(json);
  fmt::format_to(to, "{{\"time\":[{}", w.times.front() - w.moment);
  for (std::size_t row = 1; row < w.times.size(); ++row) fmt::format_to(to, ",{}", w.times[row] - w.times[row - 1]);
  fmt::format_to(to, "],\n\"signals\":[");
  for (std::size_t s = 0; s < w.signals.size(); ++s) {
    const double scale = scale_of(extents[s], w.signals[s].holds());
    fmt::format_to(to, "{}\n{{\"scale\":{},\"steps\":[", s > 0 ? "," : "", scale);
    put_steps(json, w, s, scale);
    fmt::format_to(to, "]}}");
  }
  fmt::format_to(to, "],\n\"marks\":[");
  std::vector<MarkLane> lanes;
  for (std::size_t m = 0; m < w.marks.size(); ++m) {
    const Placed placed = place(lanes, w.marks[m]);
    fmt::format_to(to, "{}[{},{},{}]", m > 0 ? "," : "", w.marks[m].time - w.moment, placed.lane, placed.event);
  }
  fmt::format_to(to, "],\n\"thresholds\":[");
  for (std::size_t t = 0; t < w.thresholds.size(); ++t) {
    const Threshold& threshold = w.thresholds[t];
    fmt::format_to(to, "{}[{},{}]", t > 0 ? "," : "", threshold.signal,
                   written_value(threshold.value, w.signals[threshold.signal]));
  }
  fmt::format_to(to, "]}}");
  return fmt::to_string(json);
}

}  // namespace overwinter
