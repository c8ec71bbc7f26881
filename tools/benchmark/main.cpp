// The project's benchmark: one process run, so that its ratios compare like with like. Seconds belong to one machine.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <fstream>
#include <nlohmann/json.hpp>

#include "tools/benchmark/chart.hpp"
#include "tools/benchmark/work_precision.hpp"

namespace {

void write(const std::string& path, const std::string& text) {
  std::ofstream file(path);
  file << text;
  file.close();
  if (!file) throw std::runtime_error(path + ": cannot be written");
}

}  // namespace

int main(int argc, char** argv) {
  using namespace overwinter;
  CLI::App app{"Measures what the engine costs, and at which error."};
  std::string json_file, chart_file;
  int days = 30, runs = 1;
  app.add_option("--json", json_file, "also write the numbers to this file");
  app.add_option("--chart", chart_file, "draw the work-precision table into this SVG file");
  app.add_option("--days", days, "span of the work-precision table")->check(CLI::Range(1, 30))->capture_default_str();
  app.add_option("--runs", runs, "runs of each of its rows, of which the fastest counts")->check(CLI::PositiveNumber);
  CLI11_PARSE(app, argc, argv);
  try {
    const WorkPrecision w = measure_work_precision("scenarios/peat-bog-ten-minutes.yaml", days, runs);
    print(w);
    nlohmann::ordered_json all;
    all["work_precision"] = json_of(w);
    if (!json_file.empty()) write(json_file, all.dump(2) + "\n");
    if (!chart_file.empty()) write(chart_file, work_precision_chart(w, "caption"));
    return 0;
  } catch (const std::exception& e) {
    fmt::print(stderr, "bench: {}\n", e.what());
    return 3;
  }
}
