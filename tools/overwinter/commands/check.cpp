// overwinter check
#include <fmt/format.h>

#include "sim/replay/replay.hpp"
#include "sim/replay/weather_json.hpp"
#include "sim/weather/review.hpp"
#include "tools/overwinter/commands/commands.hpp"
#include "tools/overwinter/commands/option_values.hpp"
#include "tools/overwinter/terminal.hpp"

namespace overwinter {
namespace {

class Check : public Command {
 public:
  explicit Check(CLI::App& program)
      : Command(program, "check", "Read a scenario, report every fault with its place, and review the design") {
    add_file();
    add_json();
    add_changes();
  }

 private:
  int work() override {
    const Scenario scenario = read_changed(file_, set_, faults_);
    const Weather weather = weather_of(scenario, std::nullopt);
    const std::vector<DesignFinding> findings = review(scenario, weather);
    const std::vector<std::string> assumptions = assumptions_of(scenario);
    if (json_) {
      const nlohmann::ordered_json report = {{"format", 1},
                                             {"file", file_},
                                             {"faults", nlohmann::ordered_json::array()},
                                             {"parts", scenario.parts.size()},
                                             {"nets", scenario.nets.size()},
                                             {"lines", scenario.lines.size()},
                                             {"findings", findings},
                                             {"assumptions", assumptions},
                                             {"weather", weather_json(weather)},
                                             {"warnings", weather.warnings()},
                                             {"overrides", scenario.overrides}};
      fmt::print("{}\n", report.dump(2));
      return 0;
    }
    fmt::print("{}: no faults; parts: {}, nets: {}, lines: {}; {} to {}\n", file_, scenario.parts.size(),
               scenario.nets.size(), scenario.lines.size(), iso(scenario.from), iso(scenario.to));
    fmt::print("{}", overrides_text({{"overrides", scenario.overrides}}));
    fmt::print("{}", weather_text(weather_json(weather)));
    for (const DesignFinding& f : findings) fmt::print("{}", note("Warning", sentence(f)));
    for (const std::string& a : assumptions) fmt::print("{}", note("Assumed", a));
    for (const std::string& w : weather.warnings()) fmt::print("{}", note("Note", w));
    return 0;
  }

  static std::vector<std::string> assumptions_of(const Scenario& scenario) {
    std::vector<std::string> all;
    for (const ScenarioPart& part : scenario.parts) {
      for (const std::string& a : part.model->assumptions()) all.push_back(part.name + ": " + a);
    }
    return all;
  }
};

}  // namespace

std::unique_ptr<Command> check_command(CLI::App& program) { return std::make_unique<Check>(program); }

}  // namespace overwinter
