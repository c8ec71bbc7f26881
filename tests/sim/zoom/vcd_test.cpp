#include "sim/zoom/vcd.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <cstdlib>
#include <stdexcept>

#include "tests/sim/zoom/support/invented_start.hpp"
#include "tests/sim/zoom/support/vcd_reader.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

/// The value that a variable has at a time, counted from the first row.
double value_at(const test::VcdVariable& v, Tick time) {
  double value = -1;
  for (const auto& [changed, to] : v.changes) {
    if (changed <= time) value = to;
  }
  return value;
}

std::vector<std::int64_t> times_of(const test::VcdVariable& v) {
  std::vector<std::int64_t> times;
  for (const auto& change : v.changes) times.push_back(change.first);
  return times;
}

const std::vector<std::string> variables = {
    "net.cell_plus_V",          "net.rail_V",   "boost.regime", "boost.input_current_mA",
    "boost.efficiency_percent", "line.radio_on"};

void require_same_values(const Waveforms& w, const test::Vcd& vcd) {
  for (std::size_t s = 0; s < w.signals.size(); ++s) {
    const test::VcdVariable& v = vcd.variables.at(variables[s]);
    for (std::size_t row = 0; row < w.times.size(); ++row) {
      CAPTURE(variables[s]);
      CAPTURE(row);
      REQUIRE(value_at(v, w.times[row] - w.times.front()) == written_value(w.value(row, s), w.signals[s]));
    }
  }
}

/// Runs a converter of wave files, which must have nothing to say.
void convert(const test::Scratch& scratch, const std::string& command) {
  CAPTURE(command);
  REQUIRE_MESSAGE(std::system((command + " 2>" + scratch.path("messages")).c_str()) == 0,
                  "tools/setup installs the package with vcd2fst and fst2vcd");
  REQUIRE(scratch.read("messages").empty());
}

}  // namespace

TEST_CASE("a reader by the standard's grammar gets back every value at every row") {
  const Waveforms w = test::invented_start();
  const test::Vcd vcd = test::read_vcd(vcd_text(w, "waveforms.vcd"));
  CHECK(vcd.version == "overwinter " OVERWINTER_VERSION " $dumpfile(\"waveforms.vcd\")");
  CHECK(vcd.timescale == "1 ns");
  CHECK(vcd.first == 0);
  CHECK(vcd.last == w.times.back() - w.times.front());
  CHECK(vcd.variables.size() == variables.size() + 3);  // three kinds of events
  require_same_values(w, vcd);
}

TEST_CASE("only changes are dumped, and the end is told even if nothing changes there") {
  Waveforms w = test::invented_start();
  const test::Vcd vcd = test::read_vcd(vcd_text(w, "w.vcd"));
  CHECK(times_of(vcd.variables.at("net.cell_plus_V")) == std::vector<std::int64_t>{0, 1'000'000, 1'012'500, 3'000'000});
  CHECK(times_of(vcd.variables.at("boost.regime")) == std::vector<std::int64_t>{0, 1'000'000, 3'000'000});
  CHECK(times_of(vcd.variables.at("line.radio_on")) == std::vector<std::int64_t>{0, 3'000'000});

  w.marks.clear();
  for (std::size_t s = 0; s < w.signals.size(); ++s) w.values[4 * w.signals.size() + s] = w.value(3, s);
  CHECK(test::read_vcd(vcd_text(w, "w.vcd")).last == 3'000'000);

  // What the network's solver leaves is no change.
  w.values[0] += 1e-13;
  CHECK(times_of(test::read_vcd(vcd_text(w, "w.vcd")).variables.at("net.cell_plus_V")).size() == 3);
}

TEST_CASE("every kind of event is an event variable of its part, triggered once a tick") {
  Waveforms w = test::invented_start();
  w.marks.insert(w.marks.begin(), w.marks.front());
  const test::Vcd vcd = test::read_vcd(vcd_text(w, "w.vcd"));
  CHECK(vcd.variables.at("boost.starts").type == "event");
  CHECK(times_of(vcd.variables.at("boost.starts")) == std::vector<std::int64_t>{1'000'000, 3'000'000});
  CHECK(times_of(vcd.variables.at("switch.on")) == std::vector<std::int64_t>{1'000'000});
  CHECK(times_of(vcd.variables.at("network.collapse")) == std::vector<std::int64_t>{1'012'500});
}

TEST_CASE("an event between two rows is triggered at its own time") {
  Waveforms w = test::invented_start();
  w.marks.back().time = w.moment + 700;
  w.marks[2].time = w.moment + 5;
  const test::Vcd vcd = test::read_vcd(vcd_text(w, "w.vcd"));
  CHECK(times_of(vcd.variables.at("boost.starts")) == std::vector<std::int64_t>{1'000'000, 1'000'700});
  require_same_values(w, vcd);
}

TEST_CASE("the converters of a wave viewer take it without a word and give every value back") {
  const test::Scratch scratch;
  const Waveforms w = test::invented_start();
  const std::string dump = scratch.write("w.vcd", vcd_text(w, "w.vcd"));
  convert(scratch, "vcd2fst " + dump + " " + scratch.path("w.fst"));
  convert(scratch, "fst2vcd " + scratch.path("w.fst") + " >" + scratch.path("back.vcd"));
  const test::Vcd back = test::read_vcd(scratch.read("back.vcd"));
  require_same_values(w, back);
  CHECK(back.last == w.times.back() - w.times.front());
  CHECK(times_of(back.variables.at("boost.starts")) == std::vector<std::int64_t>{1'000'000, 3'000'000});
}

TEST_CASE("names become identifiers, and what becomes the same is told apart") {
  CHECK(vcd_identifier("cell+") == "cell_plus");
  CHECK(vcd_identifier("panel-south") == "panel_south");
  CHECK(vcd_identifier("3V3") == "_3V3");
  CHECK(vcd_identifier("W/m2") == "W_per_m2");
  CHECK(vcd_identifier("\u00B5s") == "_s");
  CHECK(vcd_identifier("") == "_");

  Waveforms w = test::invented_start();
  w.signals[1].name = "cell_plus";
  w.marks[0].part = "boost";
  w.marks[0].event = "regime";
  w.signals[5].group = "boost+";
  w.signals[4].group = "boost_plus";
  const test::Vcd vcd = test::read_vcd(vcd_text(w, "w.vcd"));
  for (const char* name : {"net.cell_plus_V", "net.cell_plus_V_2", "boost.regime", "boost.regime_2",
                           "boost_plus.efficiency_percent", "boost_plus_2.radio_on"}) {
    CAPTURE(name);
    CHECK(vcd.variables.count(name) == 1);
  }
}

TEST_CASE("more signals than one character can name") {
  Waveforms w = test::invented_start();
  w.marks.clear();
  w.thresholds.clear();
  w.signals.clear();
  w.values.clear();
  w.times.resize(1);
  constexpr std::size_t many = 94 + 94 * 94 + 1;
  for (std::size_t i = 0; i < many; ++i) {
    w.signals.push_back(net_signal("n" + std::to_string(i)));
    w.values.push_back(static_cast<double>(i));
  }
  w.moment = w.times.front();
  const test::Vcd vcd = test::read_vcd(vcd_text(w, "w.vcd"));
  CHECK(vcd.variables.size() == many);
  CHECK(vcd.variables.at("net.n8930_V").changes.back().second == 8930);
}

TEST_CASE("comments tell the instants, the labels and the names as they are written, and no text ends one") {
  Waveforms w = test::invented_start();
  w.title = "a $end b\n\u00E4";
  const test::Vcd vcd = test::read_vcd(vcd_text(w, "w.vcd"));
  const auto has = [&](const std::string& text) {
    return std::count(vcd.comments.begin(), vcd.comments.end(), text) == 1;
  };
  CHECK(has("a _end b??: event 3: switch, on"));
  CHECK(
      has("time 0 is 2024-10-15T01:59:59.999000000Z; the moment, 2024-10-15T02:00:00.000000000Z, is at time 1000000"));
  CHECK(has("boost.regime: what the part does: 0 off, 1 starting, 2 on"));
  CHECK(has("net.cell+ [V]: against ground"));
}

TEST_CASE("the same waveforms give the same bytes; unsound ones none") {
  Waveforms w = test::invented_start();
  CHECK(vcd_text(w, "w.vcd") == vcd_text(w, "w.vcd"));
  CHECK(vcd_text(w, "w.vcd").find("$date") == std::string::npos);
  w.values.pop_back();
  CHECK_THROWS_AS(vcd_text(w, "w.vcd"), std::invalid_argument);
}
