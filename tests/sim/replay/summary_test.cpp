#include "sim/replay/summary.hpp"

#include <doctest/doctest.h>

#include "sim/replay/replay.hpp"
#include "tests/support/scratch.hpp"
#include "tests/support/toy.hpp"

using namespace overwinter;

TEST_CASE("a constant current's summary is what a pencil says") {
  // One day at 10 mA from a cell of 1 Ah with 3.5 V throughout behind 100 mohm: 0.24 Ah, (3.5 - 0.001) V x 10 mA x
  // 86400 s used, 0.1 ohm x (10 mA)^2 x 86400 s lost.
  const test::Scratch scratch;
  scratch.write_weather("still.epw", [](int) { return 0.0; });
  std::string text = test::cell_and("{model: load, kind: current, current: 10 mA}", "3.5 3.5", "100");
  text.replace(text.find("to: 2025-03-02"), 14, "to: 2025-03-01");
  ReplayOptions options;
  options.out = scratch.path("result");
  const nlohmann::ordered_json s = replay(read_scenario(scratch.write("test.yaml", text)), options).summary;
  CHECK(s.at("span").at("days") == 1);
  CHECK(s.at("cell").at("charge_out_Ah").get<double>() == doctest::Approx(0.24).epsilon(1e-10));
  CHECK(s.at("cell").at("charge_in_Ah").get<double>() == 0);
  CHECK(s.at("cell").at("soc_end").get<double>() == doctest::Approx(0.76).epsilon(1e-10));
  CHECK(s.at("cell").at("soc_min").get<double>() == doctest::Approx(0.76).epsilon(1e-10));
  const auto& e = s.at("energy");
  CHECK(e.at("delivered_J").get<double>() == doctest::Approx(3.499 * 0.01 * 86400).epsilon(1e-9));
  CHECK(e.at("losses_J").at("cell").at("series").get<double>() == doctest::Approx(0.1 * 1e-4 * 86400).epsilon(1e-9));
  CHECK(e.at("stored_change_J").get<double>() == doctest::Approx(-3.5 * 0.01 * 86400).epsilon(1e-9));
  CHECK(e.at("harvested_J").get<double>() == 0);
}

TEST_CASE("moments that could not be looked into stand in the summary, with a finding") {
  const test::Scratch scratch;
  scratch.write_weather("still.epw", [](int) { return 0.0; });
  const std::string file =
      scratch.write("test.yaml", test::cell_and("{model: load, kind: current, current: 10 mA}", "3.5 3.5", "100"));
  const auto with = [&](double off) {
    Scenario s = read_scenario(file);
    const auto toy = test::stepping_toy(3600, 1e-3, {1e-6, 1, off});
    s.nets[0].pins.push_back({s.parts.size(), 0});
    s.parts.push_back({"odd", "", &toy->table(), toy, {}});
    ReplayOptions options;
    options.out = scratch.path("result");
    return replay(s, options).summary;
  };
  const auto finding = [](const nlohmann::ordered_json& summary) {
    nlohmann::ordered_json found;
    for (const auto& f : summary.at("findings")) {
      if (f.at("rule") == "closer-look-refused") found = f;
    }
    return found;
  };
  const nlohmann::ordered_json refused = with(1), fine = with(0);
  CHECK(refused.at("zooms").at("looked_into") == 1);
  CHECK(refused.at("zooms").at("refused") == 1);
  CHECK(fine.at("zooms").at("looked_into") == 1);
  CHECK(fine.at("zooms").at("refused") == 0);
  CHECK(finding(fine).is_null());
  const std::string text = finding(refused).at("text");
  CHECK(text.find("1 of 1 moments could not be looked into, and count as sound; the first: 2025-03-01T01:00:00") == 0);
  CHECK(text.find("of odd would move by") != std::string::npos);
}
