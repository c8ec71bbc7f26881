#include "sim/stop.hpp"

#include <doctest/doctest.h>
#include <signal.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

using namespace overwinter;

namespace {

double own_time() {
  timespec now = {};
  ::clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

void work_for(double seconds) {
  for (const double begun = own_time(); own_time() - begun < seconds;) continue;
}

}  // namespace

TEST_CASE("a limit of processor time stops what looks at it once it is spent, and nothing where none is set") {
  TimeLimit limit(0.1), none(std::nullopt);
  for (int i = 0; i < 1000; ++i) limit.look();
  const double begun = own_time();
  CHECK_THROWS_AS(for (;;) limit.look(), Stopped);
  CHECK(own_time() - begun > 0.05);
  CHECK(own_time() - begun < 0.2);
  for (int i = 0; i < 1000; ++i) none.look();
  none.look_now(1e9);
}

TEST_CASE("what children at work have spent counts, and what those did that have ended") {
  const TimeLimit limit(0.5);
  limit.look_now(0.3);
  CHECK_THROWS_AS(limit.look_now(0.6), Stopped);
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    work_for(0.3);
    ::_exit(0);
  }
  ::waitpid(child, nullptr, 0);
  CHECK_THROWS_AS(limit.look_now(0.3), Stopped);
  limit.look_now(0.05);
}

TEST_CASE("the processor time of another process, while it is there") {
  work_for(0.02);
  const double before = own_time(), told = processor_time(::getpid());
  CHECK(told >= before);
  CHECK(told <= own_time());
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) ::_exit(0);
  ::waitpid(child, nullptr, 0);
  CHECK(processor_time(child) == 0);
}

TEST_CASE("what cut a result short, for machines and for people") {
  const auto limit = cut_short_json({}, 60.0), signal = cut_short_json({SIGINT}, 60.0);
  CHECK(limit.dump() == R"({"by":"limit","limit_s":60.0})");
  CHECK(signal.dump() == R"({"by":"signal","signal":2})");
  CHECK(cut_short_by(limit) == "the limit of 1 min of processor time");
  CHECK(cut_short_by(signal) == "an interruption");
  CHECK(cut_short_by(at_work_json()) == "the end of the program");
  CHECK(cut_short_by({{"by", "limit"}}) == "the limit of processor time");
}
