#include "tools/benchmark/instructions.hpp"

#include <fmt/format.h>

#include <optional>
#include <stdexcept>

#include "sim/replay/replay.hpp"
#include "tools/benchmark/child.hpp"
#include "tools/benchmark/course.hpp"
#include "tools/benchmark/variants.hpp"

namespace overwinter {

namespace {

constexpr int counted_hours = 12;  // the morning of the first day: callgrind is some fifty times slower

struct Counted {
  double instructions = 0, wakes = 0;
};

double number_after(const std::string& text, const std::string& word) {
  const std::size_t at = text.find(word);
  if (at == std::string::npos) throw std::runtime_error("callgrind said nothing of \"" + word + "\"");
  return std::stod(text.substr(at + word.size()));
}

Counted count(const std::string& self, const std::string& scenario, int hours) {
  const Finished f = run_child({"valgrind", "--tool=callgrind", "--callgrind-out-file=/dev/null", self, counted_option,
                                scenario, std::to_string(hours)});
  if (f.code != 0) throw std::runtime_error("callgrind failed: " + f.said);
  return {number_after(f.said, "Collected : "), number_after(f.said, "wakes: ")};
}

}  // namespace

InstructionCost count_instructions(const std::string& self, const std::string& path) {
  InstructionCost cost;
  if (run_child({"valgrind", "--version"}).code != 0) {
    cost.missing = "valgrind is not installed (apt-get install valgrind)";
    return cost;
  }
  const TemporaryFolder folder;
  const Phased few = with_phases_cut(path, 1), many = with_phases_cut(path, 2);
  const std::string coarse = folder.write("few.yaml", few.yaml), fine = folder.write("many.yaml", many.yaml);
  const Counted nothing = count(self, coarse, 0), a = count(self, coarse, counted_hours),
                b = count(self, fine, counted_hours);
  cost.hours = counted_hours;
  cost.per_wake = (a.instructions - nothing.instructions) / a.wakes;
  cost.per_phase =
      (b.instructions / b.wakes - a.instructions / a.wakes) / static_cast<double>(many.phases - few.phases);
  return cost;
}

void print(const InstructionCost& c) {
  if (!c.missing.empty()) {
    fmt::print("\nInstructions: not counted, {}\n", c.missing);
    return;
  }
  fmt::print(
      "\nInstructions over {} hours, by callgrind: {:.0f} thousand a wake, all between the wakes included; {:.0f} "
      "thousand for one more load phase\n",
      c.hours, c.per_wake / 1000, c.per_phase / 1000);
}

nlohmann::ordered_json json_of(const InstructionCost& c) {
  if (!c.missing.empty()) return {{"missing", c.missing}};
  return {{"hours", c.hours}, {"per_wake", c.per_wake}, {"per_phase", c.per_phase}};
}

void run_to_be_counted(const std::string& path, int hours) {
  const Scenario scenario = first_days(path, 1);
  const Weather weather = weather_of(scenario, std::nullopt);
  const Course course = run_course(Diagram(scenario), weather, phases_method(), SimulatorOptions{}.tolerance,
                                   hours * 3600 * ticks_per_second);
  fmt::print(stderr, "wakes: {}\n", course.wakes);
}

}  // namespace overwinter
