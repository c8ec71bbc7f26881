#include "tools/overwinter/zoom_text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/engine/simulator.hpp"
#include "sim/text.hpp"
#include "tools/overwinter/terminal.hpp"

namespace overwinter {

namespace {

constexpr std::size_t shown_marks = 20;

double seconds(Tick t) { return static_cast<double>(t) / ticks_per_second; }

}  // namespace

std::string zoom_text(const Waveforms& w, const nlohmann::ordered_json& changes, const std::string& from,
                      const std::string& folder, const std::vector<std::string>& files) {
  std::string text = plain(w.title) + "\n" + changes_text(changes);
  if (!from.empty()) {
    text += note("From", plain(from) +
                             ": stores and memories stand as they did there, also where a run with other "
                             "values would have come here otherwise");
  }
  text += note("Moment", iso_time(w.moment, 9) + (w.occasion.empty() ? "" : ", " + plain(w.occasion)));
  text += note("Window",
               fmt::format("{} to {}: {} of {}", offset_text(w.times.front() - w.moment),
                           offset_text(w.times.back() - w.moment), how_many(std::to_string(w.times.size()), "row"),
                           how_many(std::to_string(w.signals.size()), "signal")));
  text += note("Events", std::to_string(w.marks.size()));
  for (std::size_t m = 0; m < std::min(w.marks.size(), shown_marks); ++m) {
    const Mark& mark = w.marks[m];
    text += fmt::format("  {:>18}  {}: {}\n", offset_text(mark.time - w.moment), mark.group(), mark.event);
  }
  if (w.marks.size() > shown_marks) text += fmt::format("  and {} more\n", w.marks.size() - shown_marks);
  std::string paths;
  for (const std::string& file : files) paths += (paths.empty() ? "" : ", ") + folder + "/" + file;
  return text + note("Written", paths) + "\n" + cautions();
}

nlohmann::ordered_json zoom_json(const Waveforms& w, const nlohmann::ordered_json& changes, const std::string& from,
                                 const std::string& folder, const std::vector<std::string>& files) {
  nlohmann::ordered_json events = nlohmann::ordered_json::array();
  for (const Mark& m : w.marks) {
    events.push_back({{"time", iso_time(m.time, 9)},
                      {"from_moment_s", seconds(m.time - w.moment)},
                      {"part", m.part.empty() ? nlohmann::ordered_json() : nlohmann::ordered_json(m.part)},
                      {"event", m.event},
                      {"meaning", m.meaning}});
  }
  return {{"format", 1},
          {"version", OVERWINTER_VERSION},
          {"scenario", w.title},
          {"overrides", changes.at("overrides")},
          {"faults", changes.at("faults")},
          {"from_file", from.empty() ? nlohmann::ordered_json() : nlohmann::ordered_json(from)},
          {"moment", iso_time(w.moment, 9)},
          {"occasion", w.occasion},
          {"from_s", seconds(w.times.front() - w.moment)},
          {"to_s", seconds(w.times.back() - w.moment)},
          {"rows", w.times.size()},
          {"signals", w.signals.size()},
          {"events", events},
          {"folder", folder},
          {"files", files}};
}

}  // namespace overwinter
