// Work that is cut short, by --limit or by whoever ends it: what it leaves, and what it does not claim.
#include <doctest/doctest.h>

#include <algorithm>
#include <nlohmann/json.hpp>
#include <sstream>

#include "tests/support/program.hpp"
#include "tests/support/running_program.hpp"
#include "tests/support/shipped.hpp"

using namespace overwinter;
namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

namespace {

const std::string outcomes = std::string(OVERWINTER_SOURCE) + "/scenarios/outcomes/";

Json json(const test::Scratch& scratch, const std::string& name) { return Json::parse(scratch.read(name)); }

std::string without_clock(const test::Scratch& scratch, const std::string& name) {
  Json j = json(scratch, name);
  j.at("engine").erase("wall_s");
  return j.dump();
}

/// A result that stands at `out` before anything is cut short, and must stand there afterwards.
class Former {
 public:
  Former(const test::Scratch& scratch, const std::string& file) : scratch_(scratch), file_("out/" + file) {
    fs::create_directory(scratch.path("out"));
    scratch.write(file_, "former");
  }
  bool stands() const {
    return scratch_.read(file_) == "former" && std::distance(fs::directory_iterator(scratch_.path("out")), {}) == 1;
  }

 private:
  const test::Scratch& scratch_;
  const std::string file_;
};

std::string last_line(const std::string& text) {
  const std::size_t end = text.find_last_not_of('\n');
  return text.substr(text.rfind('\n', end) + 1, end - text.rfind('\n', end));
}

/// A logger that sleeps through the winter without an end in sight: minutes of work.
std::string long_winter(const test::Scratch& scratch, const std::string& charge) {
  return scratch.write("winter.yaml", test::shipped("peat-bog.yaml", {{"to: 2025-01-20", "to: 2034-01-20"},
                                                                      {"charge: 80 %", "charge: " + charge}}));
}

}  // namespace

TEST_CASE("run: cut short it stands beside the former result, says so everywhere and decides nothing") {
  const test::Scratch scratch;
  const Former former(scratch, "summary.json");
  const test::Said said = test::overwinter_says(
      "run " + long_winter(scratch, "80 %") + " --limit '0.4 s' --out " + scratch.path("out"), scratch);
  CHECK(said.code == 3);
  CHECK(said.err == "overwinter: cut short, see " + scratch.path("out-partial") + "\n");
  CHECK(former.stands());
  CHECK(said.says("Cut      short by the limit of 0.4 s of processor time, at 20"));
  CHECK(said.says("Written  " + scratch.path("out-partial") + "/report.html"));
  const Json s = json(scratch, "out-partial/summary.json");
  const Json& cut = s.at("cut_short");
  CHECK(cut.at("by") == "limit");
  CHECK(cut.at("limit_s") == 0.4);
  CHECK(cut.at("share").get<double>() > 0);
  CHECK(cut.at("share").get<double>() < 0.5);
  const std::string reached = cut.at("reached").get<std::string>();
  CHECK(s.at("span").at("to") == "2034-01-20");
  CHECK(s.at("verdict").at("survives").is_null());
  CHECK(s.at("verdict").at("text").get<std::string>().find("Undecided: the run was cut short at " + reached) == 0);
  for (const Json& r : s.at("requirements")) CHECK(r.at("held").is_null());
  CHECK(s.at("service").at("wakes_completed").get<int>() > 0);
  CHECK(std::abs(s.at("energy").at("residual_independent").get<double>()) < 1e-8);
  const std::string trace = scratch.read("out-partial/trace.csv"), header = trace.substr(0, trace.find('\n'));
  const std::string mark = last_line(trace);
  CHECK(mark.find("cut short at " + reached.substr(0, 19)) == 0);
  CHECK(std::count(header.begin(), header.end(), ',') == std::count(mark.begin(), mark.end(), ','));
  CHECK(last_line(scratch.read("out-partial/events.csv")).find(",0,,cut short,") != std::string::npos);
  CHECK(scratch.read("out-partial/report.html").find("Cut short at " + reached) != std::string::npos);

  // A later run that comes to its end takes the former one's place, and leaves the partial one.
  const std::string partial = scratch.read("out-partial/summary.json");
  CHECK(test::overwinter_says("run " + outcomes + "survives.yaml --set span.to=2025-03-02 --out " + scratch.path("out"),
                              scratch)
            .code == 1);
  CHECK_FALSE(former.stands());
  CHECK(scratch.read("out-partial/summary.json") == partial);
}

TEST_CASE("run: what nothing can mend any more fails all the same") {
  const test::Scratch scratch;
  const test::Said said = test::overwinter_says(
      "run " + long_winter(scratch, "5 %") + " --limit '0.6 s' --out " + scratch.path("out"), scratch);
  CHECK(said.code == 3);
  CHECK_FALSE(fs::exists(scratch.path("out")));
  const Json s = json(scratch, "out-partial/summary.json");
  REQUIRE(s.at("brownouts").at("count").get<int>() > 0);
  CHECK(s.at("verdict").at("survives") == false);
  CHECK(s.at("verdict").at("text").get<std::string>().find("; the run was cut short at 20") != std::string::npos);
  for (const Json& r : s.at("requirements")) CHECK(r.at("held") != true);
}

TEST_CASE("run: a limit that is not reached changes no byte") {
  const test::Scratch scratch;
  const std::string run = "run " + outcomes + "recovers.yaml --out " + scratch.path("");
  const int code = test::overwinter_says(run + "without", scratch).code;
  CHECK(test::overwinter_says(run + "with --limit '1 h'", scratch).code == code);
  for (const std::string file : {"trace.csv", "events.csv"}) {
    CHECK(scratch.read("with/" + file) == scratch.read("without/" + file));
  }
  CHECK(without_clock(scratch, "with/summary.json") == without_clock(scratch, "without/summary.json"));
  CHECK_FALSE(fs::exists(scratch.path("with-partial")));
}

TEST_CASE("run: the limit holds inside reset loops too, of which a step takes long") {
  const test::Scratch scratch;
  std::vector<std::string> files = {scratch.write(
      "loop.yaml",
      test::shipped("peat-bog.yaml", {{"from: 2024-10-15, to: 2025-01-20", "from: 2024-12-29, to: 2026-12-29"},
                                      {"charge: 80 %", "charge: 5.25 %"}}))};
  const fs::path cases = fs::path(OVERWINTER_SOURCE) / "../shared/reference/cases";
  for (const char* name : {"turns-71.yaml", "turns-103.yaml", "turns-125.yaml"}) {
    if (fs::exists(cases / name)) files.push_back((cases / name).string());
  }
  for (const std::string& file : files) {
    CAPTURE(file);
    test::RunningProgram program(scratch, {"run", file, "--limit", "1 s", "--out", scratch.path("out")});
    const test::Ended ended = program.wait();
    CHECK(ended.processor_s < 2);
    CHECK(WIFEXITED(ended.status));
  }
}

TEST_CASE("ensemble: each member has the limit for itself, and what is cut short is not counted as held") {
  const test::Scratch scratch;
  const Former former(scratch, "ensemble.json");
  const std::string scenario = OVERWINTER_SOURCE "/scenarios/snow-stake.yaml";
  const std::string run = "run " + scenario + " --jobs 2 --out " + scratch.path("out");
  const test::Said said =
      test::overwinter_says(run + " --set span.to=2045-03-31 --seeds 1,2,4 --limit '0.5 s'", scratch);
  CHECK(said.code == 3);
  CHECK(former.stands());
  const Json e = json(scratch, "out-partial/ensemble.json");
  CHECK(e.at("cut_short").at("by") == "limit");
  CHECK(e.at("counts").at("members") == 3);
  CHECK(e.at("counts").at("cut_short") == 3);
  CHECK(e.at("counts").at("held") == 0);
  CHECK(e.at("quantiles").empty());
  for (const Json& m : e.at("members")) {
    CHECK(m.at("survives") != true);
    const Json whole = json(scratch, "out-partial/members/" + m.at("name").get<std::string>() + ".json");
    CHECK(whole.at("cut_short").at("reached") == m.at("cut_short"));
  }
  CHECK(said.says("of these, 3 cut short"));
  CHECK(scratch.read("out-partial/members.csv").find(",cut short,error\n") != std::string::npos);
}

TEST_CASE("why: cut short it tells what is known, and calls nothing the smallest that it has not bracketed") {
  const test::Scratch scratch;
  const Former former(scratch, "why.json");
  const std::string why = "why " + outcomes + "needs-human.yaml --jobs 2 --out " + scratch.path("out");
  std::size_t found = 0;
  for (const std::string limit : {"0.3 s", "2 s", "5 s"}) {
    CAPTURE(limit);
    const test::Said said = test::overwinter_says(why + " --limit '" + limit + "'", scratch);
    REQUIRE(said.code == 3);
    CHECK(former.stands());
    CHECK(said.says("Cut      short by the limit of"));
    CHECK(said.err == "overwinter: cut short, see " + scratch.path("out-partial") + "\n");
    const Json w = json(scratch, "out-partial/why.json");
    CHECK(w.at("cut_short").at("by") == "limit");
    if (w.at("cut_short").contains("reached")) continue;  // in the replay itself
    CHECK_FALSE(said.says("Smallest "));
    const Json& b = w.at("brownouts").at(0);
    CHECK_FALSE(b.at("not_searched").empty());
    for (const Json& c : b.at("changes")) {
      ++found;
      const auto& left = b.at("not_searched");
      const bool searched = std::find(left.begin(), left.end(), c.at("name")) == left.end();
      CHECK(searched != c.contains("cut_short"));
      if (!searched) CHECK(c.at("short_of").is_null());
    }
  }
  CHECK(found > 0);
}

TEST_CASE("revive: cut short it tells what was not tried") {
  const test::Scratch scratch;
  const Former former(scratch, "revive.json");
  const test::Said said = test::overwinter_says(
      "revive " + outcomes + "needs-human.yaml --jobs 2 --limit '0.5 s' --out " + scratch.path("out"), scratch);
  CHECK(said.code == 3);
  CHECK(former.stands());
  const Json r = json(scratch, "out-partial/revive.json");
  const Json& n = r.at("counts");
  CHECK(r.at("cut_short").at("by") == "limit");
  CHECK(n.at("not_tried").get<int>() > 0);
  int sum = 0;
  for (const char* fate : {"back", "traps", "replace_cell", "undecided", "not_completed", "not_tried"})
    sum += n.at(fate).get<int>();
  CHECK(sum == n.at("states").get<int>());
  CHECK(said.says(" not tried\n"));
  const std::string csv = scratch.read("out-partial/revive.csv");
  std::size_t rows = 0;
  for (std::size_t at = csv.find(",not tried,"); at != std::string::npos; at = csv.find(",not tried,", at + 1)) ++rows;
  CHECK(rows == n.at("not_tried").get<std::size_t>());
}

TEST_CASE(
    "why, revive, ensemble: interrupted they keep what is known beside the former result, and die of the signal") {
  struct Work {
    std::vector<std::string> words;
    std::string file;
  };
  for (const Work& work :
       {Work{{"why", outcomes + "needs-human.yaml"}, "why.json"},
        Work{{"revive", outcomes + "needs-human.yaml"}, "revive.json"},
        Work{{"run", OVERWINTER_SOURCE "/scenarios/snow-stake.yaml", "--seeds", "1..400"}, "ensemble.json"}}) {
    for (const int signal : {SIGINT, SIGTERM, SIGKILL}) {
      const test::Scratch scratch;
      CAPTURE(work.file);
      CAPTURE(signal);
      const Former former(scratch, work.file);
      std::vector<std::string> words = work.words;
      for (const std::string& word :
           {std::string("--jobs"), std::string("2"), std::string("--out"), scratch.path("out")})
        words.push_back(word);
      test::RunningProgram program(scratch, words);
      program.until(scratch.path("out-partial/" + work.file));
      ::kill(program.id(), signal);
      const test::Ended ended = program.wait();
      CHECK(ended.by(signal));
      CHECK(program.all_gone());
      CHECK(former.stands());
      const Json cut = json(scratch, "out-partial/" + work.file).at("cut_short");
      if (signal == SIGKILL) {
        CHECK(cut.at("by") == "end");
        continue;
      }
      CHECK(cut.at("by") == "signal");
      CHECK(cut.at("signal") == signal);
      CHECK(ended.err == "overwinter: interrupted, what was known by then is in " + scratch.path("out-partial") + "\n");
    }
  }
}

TEST_CASE("ensemble: what a killed one has left stays when the next one comes to its end") {
  const test::Scratch scratch;
  const std::string stake = OVERWINTER_SOURCE "/scenarios/snow-stake.yaml";
  test::RunningProgram program(scratch,
                               {"run", stake, "--seeds", "1..400", "--jobs", "2", "--out", scratch.path("out")});
  program.until(scratch.path("out-partial/ensemble.json"));
  ::kill(program.id(), SIGKILL);
  program.wait();
  const std::string left = scratch.read("out-partial/ensemble.json");
  CHECK(json(scratch, "out-partial/ensemble.json").at("counts").at("not_completed").get<int>() > 300);
  CHECK(scratch.read("out-partial/members.csv").find("not finished") != std::string::npos);
  const test::Said said = test::overwinter_says(
      "run " + stake + " --set span.to=2025-03-02 --seeds 1,2 --out " + scratch.path("out"), scratch);
  CHECK(said.code != 3);
  CHECK_FALSE(json(scratch, "out/ensemble.json").contains("cut_short"));
  CHECK(scratch.read("out-partial/ensemble.json") == left);
  for (const auto& entry : fs::directory_iterator(scratch.path("")))
    CHECK(entry.path().filename().string().find(".unfinished-") == std::string::npos);
}
