#include "sim/replay/replay.hpp"

#include <doctest/doctest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <thread>

#include "tests/support/lengths.hpp"
#include "tests/support/replayed.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;
namespace fs = std::filesystem;

namespace {

const std::string peat_bog = std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog-harvest.yaml";

/// The peat-bog scenario over six days; `edit` may rewrite its text.
std::string short_scenario(
    const test::Scratch& scratch, const std::string& name,
    const std::function<std::string(std::string)>& edit = [](std::string s) { return s; }) {
  std::ifstream file(peat_bog);
  std::string text{std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
  const auto replace = [&text](const std::string& from, const std::string& to) {
    const std::size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    text.replace(at, from.size(), to);
  };
  replace("from: 2024-10-15, to: 2025-03-31", "from: 2024-11-20, to: 2024-11-25");
  replace("file: peat-bog.epw", "file: " + std::string(OVERWINTER_SOURCE) + "/scenarios/peat-bog.epw");
  return scratch.write(name, edit(text));
}

/// The summary without what differs from run to run or with the bytes of the input.
std::string comparable(const test::Scratch& scratch, const std::string& folder) {
  auto summary = nlohmann::ordered_json::parse(scratch.read(folder + "/summary.json"));
  summary["engine"].erase("wall_s");
  summary.erase("inputs_sha256");
  return summary.dump();
}

int run_program(const std::string& arguments) {
  const int status = std::system((std::string(OVERWINTER_PROGRAM) + " " + arguments + " >/dev/null 2>&1").c_str());
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

ReplayOptions into(const std::string& folder) {
  ReplayOptions options;
  options.out = folder;
  return options;
}

}  // namespace

TEST_CASE("two runs write the same bytes") {
  const test::Scratch scratch;
  const std::string scenario = short_scenario(scratch, "bog.yaml");
  replay(read_scenario(scenario), into(scratch.path("one")));
  replay(read_scenario(scenario), into(scratch.path("two")));
  CHECK(scratch.read("one/trace.csv") == scratch.read("two/trace.csv"));
  CHECK(scratch.read("one/events.csv") == scratch.read("two/events.csv"));
  CHECK(comparable(scratch, "one") == comparable(scratch, "two"));
  CHECK(scratch.read("one/trace.csv").size() > 100000);
}

TEST_CASE("the order in which parts and nets are written changes nothing") {
  const test::Scratch scratch;
  replay(read_scenario(short_scenario(scratch, "bog.yaml")), into(scratch.path("one")));
  const auto turned = [](std::string text) {
    // Moves the first part and the first net behind the last, and turns the pins of one net around.
    for (const std::string& line :
         {std::string("  panel-south: {part: panel-6v-100ma, tilt: 70 deg, azimuth: 180 deg, transmittance: 92 %}\n"),
          std::string("  south+: [panel-south.plus, diode-south.anode]\n")}) {
      const std::size_t at = text.find(line);
      REQUIRE(at != std::string::npos);
      text.erase(at, line.size());
      const bool part = line.find("part:") != std::string::npos;
      const std::size_t end = text.find(part ? "\nnets:" : "\nlines:");
      REQUIRE(end != std::string::npos);
      text.insert(end, line.substr(0, line.size() - 1) + (part ? "\n" : "\n"));
    }
    const std::string pins = "[charger.out, lead.a, instrument.plus]";
    text.replace(text.find(pins), pins.size(), "[instrument.plus, lead.a, charger.out]");
    return text;
  };
  replay(read_scenario(short_scenario(scratch, "turned.yaml", turned)), into(scratch.path("two")));
  CHECK(scratch.read("one/trace.csv") == scratch.read("two/trace.csv"));
  CHECK(scratch.read("one/events.csv") == scratch.read("two/events.csv"));
  CHECK(comparable(scratch, "one") == comparable(scratch, "two"));
}

TEST_CASE("the summary's ledger closes, and every number is finite") {
  const test::Scratch scratch;
  const ReplayResult r = replay(read_scenario(short_scenario(scratch, "bog.yaml")), into(scratch.path("one")));
  const auto& e = r.summary.at("energy");
  CHECK(std::abs(e.at("residual_ledger").get<double>()) < 1e-12);
  CHECK(std::abs(e.at("residual_independent").get<double>()) < 1e-8);
  double refused = 0;
  for (const auto& [cause, joules] : e.at("refused_J").items()) refused += joules.get<double>();
  CHECK(e.at("harvested_J").get<double>() + refused ==
        doctest::Approx(e.at("harvest_offered_J").get<double>()).epsilon(1e-12));
  auto told = r.summary;
  told.erase("margins");  // none of its parts has a threshold that ends service
  CHECK(told.dump().find("null") == std::string::npos);
  CHECK(r.summary.at("span").at("days") == 6);
}

TEST_CASE("the peat-bog season closes within 1e-8 at the default tolerance") {
  const test::Scratch scratch;
  const ReplayResult r = replay(read_scenario(peat_bog), into(scratch.path("season")));
  const auto& e = r.summary.at("energy");
  CHECK(std::abs(e.at("residual_independent").get<double>()) <= 1e-8);
  CHECK(std::abs(e.at("residual_ledger").get<double>()) <= 1e-12);
  // Charge balance: what went in and out, less self-discharge, is what the cell gained.
  const auto& c = r.summary.at("cell");
  const double gain = (c.at("soc_end").get<double>() - c.at("soc_start").get<double>()) * 3.0;
  const double net = c.at("charge_in_Ah").get<double>() - c.at("charge_out_Ah").get<double>();
  CHECK(net - gain > 0);
  CHECK(net - gain < 0.02 * 6 * 3.0);  // at most 2 % a month of 3 Ah over less than six months
}

namespace {

bool unfinished(const test::Scratch& scratch) {
  for (const auto& entry : fs::directory_iterator(scratch.path(""))) {
    if (entry.path().filename().string().find(".unfinished-") != std::string::npos) return true;
  }
  return false;
}

/// Starts a season's run into `out`, waits until it writes, and ends it by that signal, which it must die of.
void end_by(int signal, const test::Scratch& scratch, const std::string& out) {
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    if (!std::freopen("/dev/null", "w", stderr)) ::_exit(127);
    ::execl(OVERWINTER_PROGRAM, OVERWINTER_PROGRAM, "run", peat_bog.c_str(), "--out", out.c_str(), "--json",
            "--tolerance", "1e-9", static_cast<char*>(nullptr));
    ::_exit(127);
  }
  for (int i = 0; i < 2000 && !unfinished(scratch); ++i) std::this_thread::sleep_for(std::chrono::milliseconds(5));
  REQUIRE(unfinished(scratch));
  ::kill(child, signal);
  int status = 0;
  ::waitpid(child, &status, 0);
  REQUIRE(WIFSIGNALED(status));
  CHECK(WTERMSIG(status) == signal);
  CHECK_FALSE(fs::exists(out));
}

}  // namespace

TEST_CASE("a run that is killed leaves no half-written folder, and the next one sweeps its remains") {
  const test::Scratch scratch;
  const std::string out = scratch.path("season");
  end_by(SIGKILL, scratch, out);
  replay(read_scenario(short_scenario(scratch, "bog.yaml")), into(out));
  CHECK(fs::exists(out + "/summary.json"));
  CHECK_FALSE(unfinished(scratch));
}

TEST_CASE("a run that is told to stop takes its unfinished files away itself") {
  const test::Scratch scratch;
  for (const int signal : {SIGINT, SIGTERM, SIGHUP}) {
    end_by(signal, scratch, scratch.path("season"));
    CHECK_FALSE(unfinished(scratch));
  }
}

TEST_CASE("a run tells at every step how far it is, and what its listener throws ends it without a result") {
  const test::Scratch scratch;
  ReplayOptions options = into(scratch.path("result"));
  struct Enough {};
  Tick before = 0;
  std::size_t told = 0;
  options.progress = [&](Tick reached, double share) {
    CHECK(reached >= before);
    CHECK(share == doctest::Approx(static_cast<double>(reached - days_since_epoch({2024, 11, 20}) * ticks_per_day) /
                                   (6.0 * ticks_per_day)));
    before = reached;
    ++told;
    if (share > 0.5) throw Enough();
  };
  CHECK_THROWS_AS(replay(read_scenario(short_scenario(scratch, "bog.yaml")), options), Enough);
  CHECK(told > 100);
  CHECK_FALSE(unfinished(scratch));
  CHECK_FALSE(fs::exists(scratch.path("result")));
}

TEST_CASE("the summary says which stepper was used, and the two agree") {
  const test::Scratch scratch;
  const std::string scenario = short_scenario(scratch, "bog.yaml");
  ReplayOptions options = into(scratch.path("phases"));
  const auto phases = replay(read_scenario(scenario), options).summary;
  options.out = scratch.path("reference");
  options.stepping = Stepping::reference;
  const auto reference = replay(read_scenario(scenario), options).summary;
  CHECK(phases.at("engine").at("stepper") == "phases");
  CHECK(reference.at("engine").at("stepper") == "reference");
  CHECK(phases.at("engine").at("steps").get<int>() > 0);
  CHECK(phases.at("engine").at("steps").get<int>() * 3 < reference.at("engine").at("steps").get<int>());
  CHECK(phases.at("engine").at("events") == reference.at("engine").at("events"));
  CHECK(std::abs(phases.at("cell").at("soc_end").get<double>() - reference.at("cell").at("soc_end").get<double>()) <
        1e-7);
}

TEST_CASE("the summary says which elimination was used, and the two agree") {
  const test::Scratch scratch;
  const std::string scenario = short_scenario(scratch, "bog.yaml");
  ReplayOptions options = into(scratch.path("compiled"));
  const auto compiled = replay(read_scenario(scenario), options).summary;
  options.out = scratch.path("dense");
  options.elimination = Elimination::dense;
  const auto dense = replay(read_scenario(scenario), options).summary;
  CHECK(compiled.at("engine").at("solver") == "compiled");
  CHECK(dense.at("engine").at("solver") == "dense");
  CHECK(compiled.at("engine").at("pivot_fallbacks").get<int>() * 20 <
        compiled.at("engine").at("iterations").get<int>());
  CHECK(dense.at("engine").at("pivot_fallbacks") == 0);
  CHECK(compiled.at("engine").at("events") == dense.at("engine").at("events"));
  CHECK(std::abs(compiled.at("cell").at("soc_end").get<double>() - dense.at("cell").at("soc_end").get<double>()) <
        1e-9);
}

TEST_CASE("a second run replaces the first result") {
  const test::Scratch scratch;
  const std::string scenario = short_scenario(scratch, "bog.yaml");
  ReplayOptions coarse = into(scratch.path("result"));
  coarse.every = 3600 * ticks_per_second;
  replay(read_scenario(scenario), coarse);
  const std::size_t small = scratch.read("result/trace.csv").size();
  replay(read_scenario(scenario), into(scratch.path("result")));
  CHECK(scratch.read("result/trace.csv").size() > 3 * small);
  CHECK(fs::is_directory(scratch.path("result")));
}

TEST_CASE("the program's exit codes") {
  const test::Scratch scratch;
  const std::string scenario = short_scenario(scratch, "bog.yaml");
  CHECK(run_program("check " + scenario) == 0);
  CHECK(run_program("run " + scenario + " --out " + scratch.path("o")) == 0);
  CHECK(run_program("run " + scratch.path("absent.yaml") + " --out " + scratch.path("p")) == 2);
  CHECK(run_program("run " + scenario + " --every 5 --out " + scratch.path("p")) == 2);
  CHECK(run_program("run " + scenario + " --every \"0 min\" --out " + scratch.path("p")) == 2);
  CHECK(run_program("run " + scenario + " --stepper referense --out " + scratch.path("p")) == 2);
  CHECK(run_program("run " + scenario + " --stepper \"\" --out " + scratch.path("p")) == 2);
  CHECK(run_program("run " + scenario + " --stepper reference --out " + scratch.path("o")) == 0);
  CHECK(run_program("run " + scenario + " --weather " + scratch.path("absent.epw") + " --out " + scratch.path("p")) ==
        2);
  CHECK(run_program("run") == 2);
  CHECK(run_program("dance") == 2);
  CHECK(run_program("") == 2);
  CHECK(run_program("--help") == 0);
  CHECK(run_program("explain cell") == 0);
  CHECK(run_program("explain sell") == 2);
  CHECK(run_program("schema") == 0);
  CHECK_FALSE(fs::exists(scratch.path("p")));
}

TEST_CASE("the scenario runs on every station file at hand") {
  const fs::path folder = fs::path(OVERWINTER_SOURCE) / "../shared/reference/weather";
  if (!fs::is_directory(folder)) {
    test::skip("no station files beside the repository");
    return;
  }
  const test::Scratch scratch;
  int files = 0;
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (entry.path().extension() != ".epw") continue;
    ++files;
    ReplayOptions options = into(scratch.path("station"));
    options.weather = entry.path().string();
    const ReplayResult r = replay(read_scenario(peat_bog), options);
    CHECK(std::abs(r.summary.at("energy").at("residual_independent").get<double>()) <= 1e-8);
    CHECK(r.summary.at("energy").at("harvested_J").get<double>() > 0);
  }
  CHECK(files >= 2);
}
