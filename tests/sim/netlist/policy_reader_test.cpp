#include "sim/netlist/policy_reader.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

namespace {

struct Read {
  explicit Read(const std::string& text) {
    Faults found;
    const auto d = Document::parse("a.yaml", "policy: {" + text + "}\n", found);
    read = read_policy(*d, d->root().entries[0], found);
    for (const Fault& f : found.all()) {
      faults.push_back(std::to_string(f.place.column) + " " + f.message +
                       (f.suggestion.empty() ? "" : " | " + f.suggestion));
    }
    CHECK(static_cast<bool>(read.policy) == faults.empty());
    CHECK(read.written);
  }
  std::string fault() const { return faults.size() == 1 ? faults.front() : std::to_string(faults.size()) + " faults"; }

  ReadPolicy read;
  std::vector<std::string> faults;
};

}  // namespace

TEST_CASE("one interval") {
  const Read r("every: 30 min");
  REQUIRE(static_cast<bool>(r.read.policy));
  std::int32_t row = -1;
  CHECK(r.read.policy->interval(3.7, row) == 1800);
  CHECK_FALSE(r.read.policy->reads_voltage());
}

TEST_CASE("a table with hysteresis") {
  const Read r("table: [{below: 3.5 V, every: 6 h}, {every: 10 min}], hysteresis: 60 mV");
  REQUIRE(static_cast<bool>(r.read.policy));
  std::int32_t row = -1;
  CHECK(r.read.policy->interval(3.4, row) == 21600);
  CHECK(r.read.policy->interval(3.55, row) == 21600);
  CHECK(r.read.policy->interval(3.57, row) == 600);
}

TEST_CASE("faults of the section") {
  CHECK(Read("evry: 30 min").fault() == "10 policy has no key 'evry' | every");
  CHECK(Read("every: 30").fault() == "17 no unit after 30; every is given in min | 30 min");
  CHECK(Read("table: [{below: 3.5 V}, {every: 10 min}]")
            .fault()
            .find("18 row 1 of table lacks every | every: NUMBER "
                  "min (") == 0);
  CHECK(Read("table: {every: 10 min}").fault() ==
        "17 table needs a list of rows, not a mapping | table: [{below: NUMBER V, every: NUMBER min}, ...]");
}

TEST_CASE("findings stand at the key, or at the section") {
  CHECK(Read("hysteresis: 60 mV").fault().find("1 the policy names no interval | every: NUMBER min") == 0);
  CHECK(Read("every: 30 min, table: [{every: 10 min}]").fault().find("32 the policy has a table and also ") == 0);
  CHECK(Read("every: 1.5 s").fault().find("17 the interval is not in whole seconds") == 0);
  CHECK(
      Read("table: [{below: 3.5 V, every: 6 h}]").fault().find("17 the table does not say what holds at its highest") ==
      0);
}
