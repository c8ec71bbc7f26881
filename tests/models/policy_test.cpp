#include "models/policy.hpp"

#include <doctest/doctest.h>

#include <string>

#include "tests/models/support/random.hpp"

using namespace overwinter;
using overwinter::test::Random;

namespace {

PolicyRow row(double below, double seconds) { return {Voltage{below}, Duration{seconds}}; }
PolicyRow top(double seconds) { return {std::nullopt, Duration{seconds}}; }

/// 6 h below 3.5 V, 1 h below 3.75 V, else 10 min; in no order but for the last.
PolicyParameters table(double hysteresis) {
  PolicyParameters p;
  p.table = {row(3.75, 3600), row(3.5, 21600), top(600)};
  p.hysteresis = Voltage{hysteresis};
  return p;
}

Policy built(const PolicyParameters& p) {
  std::vector<Finding> findings;
  const std::shared_ptr<const Policy> policy = Policy::build(p, findings);
  REQUIRE(findings.empty());
  REQUIRE(static_cast<bool>(policy));
  return *policy;
}

std::vector<std::string> refused(const PolicyParameters& p) {
  std::vector<Finding> findings;
  CHECK_FALSE(static_cast<bool>(Policy::build(p, findings)));
  std::vector<std::string> keys;
  for (const Finding& f : findings) {
    CHECK_FALSE(f.message.empty());
    CHECK_FALSE(f.suggestion.empty());
    keys.push_back(f.field);
  }
  return keys;
}

/// The interval at a first reading.
int fresh(const Policy& policy, double volts) {
  std::int32_t kept = -1;
  return policy.interval(volts, kept);
}

/// How often the row changes while readings of a level with evenly distributed noise come in.
int changes(const Policy& policy, double level, double peak_to_peak) {
  Random random(3);
  std::int32_t kept = -1;
  policy.interval(level, kept);
  int count = 0;
  for (int wake = 0; wake < 1000; ++wake) {
    const std::int32_t before = kept;
    policy.interval(level + peak_to_peak * (random.between(0, 1) - 0.5), kept);
    count += kept != before;
  }
  return count;
}

}  // namespace

TEST_CASE("policy: one interval for all voltages") {
  PolicyParameters p;
  p.every = Duration{1800.0};
  const Policy policy = built(p);
  CHECK_FALSE(policy.reads_voltage());
  std::int32_t kept = -1;
  for (const double volts : {-1.0, 0.0, 3.7, 100.0}) CHECK(policy.interval(volts, kept) == 1800);
  CHECK(kept == 0);
}

TEST_CASE("policy: rows are taken from the lowest voltage up, whatever the order of those with one") {
  const Policy policy = built(table(0));
  CHECK(policy.reads_voltage());
  REQUIRE(policy.rows().size() == 3);
  CHECK(policy.rows()[0].below->si() == 3.5);
  CHECK(policy.rows()[1].below->si() == 3.75);
  CHECK_FALSE(policy.rows()[2].below.has_value());
}

TEST_CASE("policy: the first reading picks its row without hysteresis; a limit belongs to the row above it") {
  for (const double hysteresis : {0.0, 0.125, 2.0}) {
    const Policy policy = built(table(hysteresis));
    CHECK(fresh(policy, -1) == 21600);
    CHECK(fresh(policy, 3.5 - 1e-12) == 21600);
    CHECK(fresh(policy, 3.5) == 3600);
    CHECK(fresh(policy, 3.75 - 1e-12) == 3600);
    CHECK(fresh(policy, 3.75) == 600);
    CHECK(fresh(policy, 99) == 600);
  }
}

TEST_CASE("policy (1), (2): down at once, up only beyond the hysteresis, over several rows in one step") {
  const Policy policy = built(table(0.125));
  std::int32_t kept = -1;
  CHECK(policy.interval(4.0, kept) == 600);
  CHECK(policy.interval(3.75, kept) == 600);
  CHECK(policy.interval(3.75 - 1e-12, kept) == 3600);
  CHECK(policy.interval(3.875 - 1e-12, kept) == 3600);
  CHECK(policy.interval(3.875, kept) == 600);
  CHECK(policy.interval(3.0, kept) == 21600);
  CHECK(policy.interval(3.625 - 1e-12, kept) == 21600);
  CHECK(policy.interval(3.625, kept) == 3600);
  CHECK(policy.interval(3.0, kept) == 21600);
  CHECK(policy.interval(3.8, kept) == 3600);  // beyond the first row's, not beyond the second row's
  CHECK(policy.interval(3.0, kept) == 21600);
  CHECK(policy.interval(3.9, kept) == 600);
}

TEST_CASE("policy: a hysteresis wider than the rows climbs one threshold after the other") {
  const Policy policy = built(table(0.5));
  std::int32_t kept = 0;
  CHECK(policy.interval(3.99, kept) == 21600);
  CHECK(policy.interval(4.01, kept) == 3600);
  CHECK(policy.interval(4.24, kept) == 3600);
  CHECK(policy.interval(4.25, kept) == 600);
  CHECK(policy.interval(3.74, kept) == 3600);
}

TEST_CASE("policy: a kept row that the table does not have counts as none") {
  const Policy policy = built(table(0.125));
  for (const std::int32_t nonsense : {-7, 3, 1000}) {
    std::int32_t kept = nonsense;
    CHECK(policy.interval(3.6, kept) == 3600);
    CHECK(kept == 1);
  }
}

TEST_CASE("policy: readings whose noise stays within the hysteresis never chatter") {
  const Policy policy = built(table(0.06));
  for (const double level : {3.44, 3.47, 3.5, 3.53, 3.56, 3.72, 3.75, 3.78}) {
    CAPTURE(level);
    CHECK(changes(policy, level, 0.059) <= 1);
  }
  CHECK(changes(policy, 3.53, 0.2) > 100);
  CHECK(changes(built(table(0)), 3.5, 0.059) > 400);
}

TEST_CASE("policy: a slow ramp with noise within the hysteresis passes every threshold once") {
  for (const int direction : {-1, 1}) {
    const Policy policy = built(table(0.06));
    Random random(5);
    std::int32_t kept = -1;
    std::vector<int> seen;
    for (int i = 0; i <= 10000; ++i) {
      const double level = 3.65 + direction * (i - 5000) * 8e-5;
      const int interval = policy.interval(level + 0.055 * (random.between(0, 1) - 0.5), kept);
      if (seen.empty() || seen.back() != interval) seen.push_back(interval);
    }
    CHECK(seen == (direction < 0 ? std::vector<int>{600, 3600, 21600} : std::vector<int>{21600, 3600, 600}));
  }
}

TEST_CASE("policy: whatever came before, the row fits the reading within the hysteresis") {
  Random random(11);
  for (int i = 0; i < 2000; ++i) {
    const double hysteresis = random.between(0, 0.4);
    const Policy policy = built(table(hysteresis));
    std::int32_t kept = random.up_to(4) - 1;
    const bool known = kept >= 0 && kept < 3;
    const double volts = random.between(3.2, 4.2);
    const int interval = policy.interval(volts, kept);
    REQUIRE(kept >= 0);
    REQUIRE(kept < 3);
    const PolicyRow& now = policy.rows()[static_cast<std::size_t>(kept)];
    CHECK(interval == now.every.si());
    if (kept > 0) CHECK(volts >= policy.rows()[static_cast<std::size_t>(kept) - 1].below->si());
    if (kept < 2) CHECK(volts < now.below->si() + (known ? hysteresis : 0));
    const std::int32_t once = kept;
    CHECK(policy.interval(volts, kept) == interval);
    CHECK(kept == once);
  }
}

TEST_CASE("policy: its shortest and its longest interval, and its hysteresis") {
  const Policy policy = built(table(0.06));
  CHECK(policy.shortest_interval().si() == 600);
  CHECK(policy.longest_interval().si() == 21600);
  CHECK(policy.hysteresis().si() == doctest::Approx(0.06).epsilon(1e-12));
}

TEST_CASE("policy: findings about a row name it as it is written, not as it is sorted") {
  PolicyParameters p;
  p.table = {row(3.7, 600), row(3.5, 0.25), row(3.7, 900), top(300)};
  std::vector<Finding> findings;
  CHECK_FALSE(static_cast<bool>(Policy::build(p, findings)));
  REQUIRE(findings.size() == 2);
  CHECK(findings[0].row == 1);
  CHECK(findings[0].column == "every");
  CHECK(findings[1].row == 2);
  CHECK(findings[1].column == "below");
}

TEST_CASE("policy: findings") {
  using Keys = std::vector<std::string>;
  CHECK(refused(PolicyParameters{}) == Keys{"every"});
  PolicyParameters p = table(0);
  p.every = Duration{600.0};
  CHECK(refused(p) == Keys{"table"});
  p = {};
  p.every = Duration{600.5};
  CHECK(refused(p) == Keys{"every"});
  p = {};
  p.table = {row(3.5, 3600)};
  CHECK(refused(p) == Keys{"table"});
  p.table = {row(3.5, 3600), top(600), top(900)};
  CHECK(refused(p) == Keys{"table"});
  p.table = {row(3.5, 3600), row(3.5, 1800), top(600)};
  CHECK(refused(p) == Keys{"table"});
  p.table = {row(3.5, 0.25), top(600)};
  CHECK(refused(p) == Keys{"table"});
  for (const std::size_t place : {0, 1}) {  // a row that lost its voltage is not to hold at the top
    p.table = {row(3.5, 3600), row(3.7, 1800)};
    p.table.insert(p.table.begin() + static_cast<std::ptrdiff_t>(place), top(600));
    CHECK(refused(p) == Keys{"table"});
  }
  p = {};
  p.every = Duration{600.0};
  p.hysteresis = Voltage{0.06};
  CHECK(refused(p) == Keys{"hysteresis"});
  p = {};
  p.table = {top(600)};
  CHECK_FALSE(built(p).reads_voltage());
}

TEST_CASE("policy: its longest interval, whatever the row") {
  CHECK(built(table(0)).longest_interval().si() == 21600);
  PolicyParameters p;
  p.table = {row(3.5, 3600), top(7200)};
  CHECK(built(p).longest_interval().si() == 7200);
}

TEST_CASE("policy: the scenario's section has these keys") {
  std::vector<std::string> keys, columns;
  for (const Field& f : Policy::fields()) {
    keys.push_back(f.key);
    CHECK_FALSE(f.meaning.empty());
    for (const Field& column : f.columns) {
      columns.push_back(column.key);
      CHECK(column.required == (column.key == "every"));
    }
  }
  CHECK(keys == std::vector<std::string>{"every", "table", "hysteresis"});
  CHECK(columns == std::vector<std::string>{"below", "every"});
}
