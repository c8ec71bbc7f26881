// The project's benchmark: everything in one process run, so that its ratios compare like with like. Seconds are
// processor time and belong to one machine.
#include <fmt/format.h>
#include <sys/utsname.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <thread>

#include "sim/input_error.hpp"
#include "tools/benchmark/chart.hpp"
#include "tools/benchmark/instructions.hpp"
#include "tools/benchmark/minute_weather.hpp"
#include "tools/benchmark/program_cost.hpp"
#include "tools/benchmark/stepper_agreement.hpp"
#include "tools/benchmark/wakes.hpp"
#include "tools/benchmark/work_precision.hpp"
#include "tools/benchmark/zoom_cost.hpp"

namespace {

using namespace overwinter;

const std::string scenarios = OVERWINTER_SOURCE "/scenarios";
const std::string measured_scenario = scenarios + "/peat-bog-ten-minutes.yaml";
constexpr int wake_days = 10, minute_days = 5, short_runs = 2;

std::string machine_class() {
  utsname name{};
  uname(&name);
  return fmt::format("{} with {} processors", name.machine, std::thread::hardware_concurrency());
}

std::string today() {
  const auto seconds = std::chrono::system_clock::now().time_since_epoch();
  return iso(civil_date(std::chrono::duration_cast<std::chrono::hours>(seconds).count() / 24));
}

void write(const std::string& path, const std::string& text) {
  std::ofstream file(path);
  file << text;
  file.close();
  if (!file) throw std::runtime_error(path + ": cannot be written");
}

/// Minutes of measuring come first: better to know now.
void must_be_writable(const std::string& path) {
  if (path.empty()) return;
  const std::filesystem::path file(path), folder = file.has_parent_path() ? file.parent_path() : ".";
  if (access(folder.c_str(), W_OK) == 0 && !std::filesystem::is_directory(file)) return;
  throw InputError(
      {{{path, 0, 0}, "cannot be written", "give a file in a folder that exists, such as bench.json", "", 1, {}}});
}

struct Wanted {
  std::string json, chart;
  int days = 30, runs = 1;
};

void measure(const Wanted& wanted) {
  const std::filesystem::path self = std::filesystem::read_symlink("/proc/self/exe");
  const std::string head = fmt::format("{}, {}", today(), machine_class());
  fmt::print("{}. Seconds are processor time of this machine in this run; only ratios carry over.\n\n", head);

  // First, for the size of a child is not told below this program's.
  const std::vector<ProgramCost> program =
      measure_program((self.parent_path() / "overwinter").string(), measured_scenario);
  const WorkPrecision precision = measure_work_precision(measured_scenario, wanted.days, wanted.runs);
  print(precision);
  std::fflush(stdout);
  const WakeCost wakes = measure_wakes(measured_scenario, wake_days, short_runs);
  print(wakes);
  const std::vector<MinuteCost> minutes =
      measure_minute_weather({measured_scenario, scenarios + "/peat-bog-better.yaml"}, minute_days, short_runs);
  print(minutes);
  std::fflush(stdout);
  const ZoomCost zoom = measure_zoom(measured_scenario, scenarios + "/outcomes/switch-on-dip.yaml", short_runs);
  print(zoom);
  std::fflush(stdout);
  const InstructionCost instructions = count_instructions(self.string(), measured_scenario);
  print(instructions);
  print(program);
  std::fflush(stdout);
  const std::vector<StepperAgreement> agreement =
      compare_steppers(scenarios, std::filesystem::path(measured_scenario).filename().string());
  print(agreement);

  const nlohmann::ordered_json all = {{"date", today()},
                                      {"machine_class", machine_class()},
                                      {"work_precision", json_of(precision)},
                                      {"wakes", json_of(wakes)},
                                      {"minute_weather", json_of(minutes)},
                                      {"zoom", json_of(zoom)},
                                      {"instructions", json_of(instructions)},
                                      {"program", json_of(program)},
                                      {"phases_against_reference", json_of(agreement)}};
  if (!wanted.json.empty()) write(wanted.json, all.dump(2) + "\n");
  if (!wanted.chart.empty()) write(wanted.chart, work_precision_chart(precision, head + "; only ratios carry over"));
}

}  // namespace

int main(int argc, char** argv) {
  CLI::App app{"Measures what the engine costs, and at which error."};
  Wanted wanted;
  std::pair<std::string, int> counted;
  app.add_option("--json", wanted.json, "also write the numbers to this file");
  app.add_option("--chart", wanted.chart, "draw the work-precision table into this SVG file");
  app.add_option("--days", wanted.days, "span of the work-precision table")
      ->check(CLI::Range(1, 30))
      ->capture_default_str();
  app.add_option("--runs", wanted.runs, "runs of each of its rows, of which the fastest counts")
      ->check(CLI::Range(1, 100))
      ->capture_default_str();
  CLI::Option* const counting = app.add_option(counted_option, counted)->group("");  // for itself, under callgrind
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& e) {
    return app.exit(e) == 0 ? 0 : 2;
  }
  try {
    if (counting->count() > 0) {
      run_to_be_counted(counted.first, counted.second);
    } else {
      must_be_writable(wanted.json);
      must_be_writable(wanted.chart);
      measure(wanted);
    }
    return 0;
  } catch (const InputError& e) {
    fmt::print(stderr, "{}\n", e.what());
    return 2;
  } catch (const std::exception& e) {
    fmt::print(stderr, "bench: {}\n", e.what());
    return 3;
  }
}
