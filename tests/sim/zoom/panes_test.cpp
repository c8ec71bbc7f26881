#include "sim/zoom/panes.hpp"

#include <doctest/doctest.h>

#include "tests/sim/zoom/support/invented_start.hpp"

using namespace overwinter;

namespace {

/// Two rows of one signal each, with the same unit.
std::vector<Extent> extents_of(const Signal& like, const std::vector<std::pair<double, double>>& courses) {
  Waveforms w;
  w.times = {0, 1};
  for (std::size_t i = 0; i < courses.size(); ++i) w.signals.push_back(like);
  for (const auto& course : courses) w.values.push_back(course.first);
  for (const auto& course : courses) w.values.push_back(course.second);
  return extents(w);
}

}  // namespace

TEST_CASE("extremes are the first ones, in the signal's unit") {
  const std::vector<Extent> all = extents(test::invented_start());
  CHECK(all[0].least == 3.65);
  CHECK(all[0].least_row == 2);
  CHECK(all[0].most == 3.7);
  CHECK(all[0].most_row == 0);
  CHECK(all[3].most == 400);
  CHECK(all[3].most_row == 3);
}

TEST_CASE("a signal moves if its change can be seen beside the largest one of its unit") {
  const std::vector<Extent> nets = extents_of(net_signal("a"), {{0, 5}, {3.7, 3.711}, {3.7, 3.709}});
  CHECK(nets[0].moves);
  CHECK(nets[1].moves);
  CHECK_FALSE(nets[2].moves);
  const std::vector<Extent> quiet = extents_of(net_signal("a"), {{3.7, 3.70002}, {3.7, 3.7001}});
  CHECK_FALSE(quiet[0].moves);
  CHECK(quiet[1].moves);
  const Signal temperature = output_signal("cell", {"temperature", unit_of<Temperature>("degC"), "", {}, {}});
  const std::vector<Extent> warm = extents_of(temperature, {{280, 280.001}, {280, 280.1}});
  CHECK_FALSE(warm[0].moves);
  CHECK(warm[1].moves);
  const std::vector<Extent> levels = extents_of(logic_signal("a"), {{0, 1}, {1, 1}});
  CHECK(levels[0].moves);
  CHECK_FALSE(levels[1].moves);
}

TEST_CASE("a pane for what shares a unit, lanes for levels and regimes, every signal in one") {
  Waveforms w = test::invented_start();
  for (std::size_t row = 0; row < w.times.size(); ++row) w.values[row * w.signals.size() + 1] = 5;
  const std::vector<Pane> all = panes(w, extents(w));
  REQUIRE(all.size() == 4);
  CHECK(all[0].title == "Voltages, V");
  CHECK(all[0].moving == std::vector<std::size_t>{0});
  CHECK(all[0].still == std::vector<std::size_t>{1});
  CHECK(all[1].title == "Currents, mA");
  CHECK(all[2].title == "Logic levels and regimes");
  CHECK(all[2].lanes);
  CHECK(all[2].moving == std::vector<std::size_t>{2, 5});
  CHECK(all[3].title == "Other quantities, %");
}

TEST_CASE("what runs like another of its pane is told apart, but for signals with a threshold") {
  Waveforms w = test::invented_start();
  for (std::size_t row = 0; row < w.times.size(); ++row) w.values[row * w.signals.size() + 1] = w.value(row, 0);
  const Pane voltages = panes(w, extents(w)).front();
  CHECK(voltages.moving == std::vector<std::size_t>{0});
  REQUIRE(voltages.alike.size() == 1);
  CHECK(voltages.alike[0].signal == 1);
  CHECK(voltages.alike[0].drawn == 0);
  CHECK(voltages.still.empty());

  w.thresholds[0].signal = 1;
  CHECK(panes(w, extents(w)).front().moving == std::vector<std::size_t>{0, 1});
  w.thresholds[0].signal = 0;
  w.values[1] += 1e-6;
  CHECK(panes(w, extents(w)).front().alike.empty());
}
