#include "sim/netlist/field_text.hpp"

#include <doctest/doctest.h>

#include "tests/support/bound_sample.hpp"

using namespace overwinter;

namespace {

const Unit volt = unit_of<Voltage>("V"), percent = unit_of<double>("%");

std::string value_of(const char* key, const SampleParameters& p) { return value_text(*sample_table().field(key), &p); }
std::string form_of(const char* key) { return written_form(*sample_table().field(key)); }

}  // namespace

TEST_CASE("ranges in words") {
  const Limit closed{2, false}, open{2, true}, high{5, false};
  CHECK(range_text({}, {}, volt).empty());
  CHECK(range_text(closed, high, volt) == "from 2 V to 5 V");
  CHECK(range_text(open, high, volt) == "above 2 V and at most 5 V");
  CHECK(range_text(closed, {}, volt) == "at least 2 V");
  CHECK(range_text({}, open, volt) == "below 2 V");
  CHECK(range_text(Limit{1, false}, Limit{366 * 86400.0, false}, unit_of<Duration>("min")) == "from 1 s to 366 d");
  CHECK(range_text(Limit{0.05, false}, Limit{1, false}, percent) == "from 5 % to 100 %");
}

TEST_CASE("open limits are outside, closed ones inside, rounding is forgiven") {
  const auto fault = [](double si, const std::optional<Limit>& low, const std::optional<Limit>& high) {
    return range_fault("key", si, low, high, volt);
  };
  CHECK(fault(0, Limit{0, true}, {}) == "key must be above 0 V");
  CHECK(fault(0, Limit{0, false}, {}).empty());
  CHECK(fault(1, {}, Limit{1, true}) == "key must be below 1 V");
  CHECK(fault(1, {}, Limit{1, false}).empty());
  CHECK(fault(1.0001, {}, Limit{1, false}) == "key must be at most 1 V");
  double si = 1 + 1e-15;
  CHECK(range_fault("key", si, {}, Limit{1, false}, volt).empty());
  CHECK(si == 1);
}

TEST_CASE("values as one writes them") {
  SampleParameters p;
  CHECK(value_of("voltage", p) == "1 V");
  CHECK(value_of("share", p) == "50 %");
  CHECK(value_of("limit", p) == "20 degC");
  CHECK(value_of("hysteresis", p) == "3 K");
  CHECK(value_of("cells", p) == "2");
  CHECK(value_of("wired", p) == "false");
  CHECK(value_of("law", p) == "linear");
  CHECK(value_of("leakage", p).empty());
  CHECK(value_of("shape", p).empty());
  CHECK(value_of("efficiency", p).empty());
  p.leakage = Current{2e-6};
  p.shape = Curve({0, 0.5}, {3, 4}, Interpolation::linear, Outside::hold);
  p.efficiency = Map({2, 3}, {0.001, 0.01}, {{0.8, 0.9}, {0.7, 0.85}});
  CHECK(value_of("leakage", p) == "2 uA");
  CHECK(value_of("shape", p) == "{charge: 0 50 %, voltage: 3 4 V}");
  CHECK(value_of("label", p).empty());
  CHECK(value_of("stages", p).empty());
  p.label = "sun side";
  p.stages = {{"boot", Duration{2}, {}, false, 1, Voltage{3}},
              {"a: b", Duration{60}, Current{0.03}, true, 2, Voltage{3}}};
  CHECK(value_of("label", p) == "sun side");
  CHECK(value_of("stages", p) ==
        "[{name: boot, duration: 2 s, last: false, repeats: 1, threshold: 3 V}, {name: 'a: b', duration: 60 s, "
        "current: 30 mA, last: true, repeats: 2, threshold: 3 V}]");
  for (const char* text : {"it's", "- item", "true", "[list", "a, b", "#1"}) {
    p.label = text;
    const std::string written = value_of("label", p);
    CHECK(written.front() == '\'');
    CHECK(test::BoundSample("label: " + written + "\n").parameters.label == text);
  }
  CHECK(value_of("efficiency", p) == "{voltage: 2 3 V, load: 1 10 mA, share: [80 90 %, 70 85 %]}");
}

TEST_CASE("what to write") {
  CHECK(form_of("voltage") == "NUMBER V");
  CHECK(form_of("cells") == "WHOLE NUMBER");
  CHECK(form_of("wired") == "true or false");
  CHECK(form_of("law") == "linear or square");
  CHECK(form_of("shape") == "{charge: NUMBERS %, voltage: NUMBERS V}");
  CHECK(form_of("label") == "TEXT");
  CHECK(form_of("stages") ==
        "[{name: TEXT, duration: NUMBER s, current: NUMBER mA, last: true or false, threshold: NUMBER V}, ...]");
  CHECK(form_of("efficiency") == "{voltage: NUMBERS V, load: NUMBERS mA, share: [NUMBERS %, ...]}");
}
