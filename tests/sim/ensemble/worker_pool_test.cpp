#include "sim/ensemble/worker_pool.hpp"

#include <doctest/doctest.h>
#include <signal.h>
#include <unistd.h>

#include <filesystem>
#include <map>
#include <set>

#include "sim/discrete/kernel.hpp"
#include "tests/support/processes.hpp"
#include "tests/support/scratch.hpp"

using namespace overwinter;

namespace {

/// What came back, by task.
struct Heard {
  std::map<std::size_t, std::string> results, failures;
  PoolWork pool;
  Heard() {
    pool.done = [this](std::size_t i, std::string text) { results[i] = std::move(text); };
    pool.failed = [this](std::size_t i, const std::string& why) { failures[i] = why; };
    pool.tick = [](double) {};
  }
};

std::set<std::string> distinct(const std::map<std::size_t, std::string>& results) {
  std::set<std::string> all;
  for (const auto& [task, text] : results) all.insert(text);
  return all;
}

std::string self() { return std::to_string(::getpid()); }

}  // namespace

TEST_CASE("workers: every task is done once, in other processes, whatever their number, and none is left") {
  for (const std::size_t workers : {1u, 2u, 3u, 50u}) {
    Heard heard;
    heard.pool.work = [](std::size_t i, const auto&) { return std::to_string(i * i); };
    run_in_workers(20, {workers}, heard.pool);
    REQUIRE(heard.results.size() == 20);
    for (const auto& [task, text] : heard.results) CHECK(text == std::to_string(task * task));
    CHECK(test::children_of(::getpid()).empty());
  }
}

TEST_CASE("workers: a result may be longer than a socket holds, or empty") {
  Heard heard;
  heard.pool.work = [](std::size_t i, const auto&) { return std::string(i * 3'000'000, 'x'); };
  run_in_workers(3, {2}, heard.pool);
  for (std::size_t i = 0; i < 3; ++i) CHECK(heard.results.at(i) == std::string(i * 3'000'000, 'x'));
}

TEST_CASE("workers: one carries many tasks, until it is worn out") {
  Heard heard;
  heard.pool.work = [](std::size_t, const auto&) { return self(); };
  run_in_workers(12, {1}, heard.pool);
  CHECK(distinct(heard.results).size() == 1);
  CHECK(distinct(heard.results).count(self()) == 0);
  // After three tasks of 80 years there is no room for a fourth in the 292 that kernel time has.
  heard.pool.work = [](std::size_t, const auto&) {
    DiscreteKernel& kernel = DiscreteKernel::instance();
    const int run = 0;
    kernel.bind(&run, 0);
    kernel.run_to(80 * 365 * ticks_per_day);
    kernel.release(&run);
    return self();
  };
  run_in_workers(12, {1}, heard.pool);
  CHECK(distinct(heard.results).size() == 4);
}

TEST_CASE("workers: a task that throws has failed, the others go on") {
  Heard heard;
  heard.pool.work = [](std::size_t i, const auto&) -> std::string {
    if (i == 2) throw std::runtime_error("no operating point");
    return "done";
  };
  run_in_workers(5, {2}, heard.pool);
  CHECK(heard.results.size() == 4);
  CHECK(heard.failures == std::map<std::size_t, std::string>{{2, "no operating point"}});
}

TEST_CASE("workers: a task whose worker dies is done by another one; the second time it is told") {
  const test::Scratch scratch;
  Heard heard;
  heard.pool.work = [&](std::size_t i, const auto&) -> std::string {
    if (i == 3 && !std::filesystem::exists(scratch.path("died"))) {
      scratch.write("died", "");
      ::kill(::getpid(), SIGKILL);
    }
    return "done";
  };
  run_in_workers(6, {2}, heard.pool);
  CHECK(std::filesystem::exists(scratch.path("died")));
  CHECK(heard.results.size() == 6);

  heard.pool.work = [](std::size_t i, const auto&) -> std::string {
    if (i == 3) ::kill(::getpid(), SIGKILL);
    return "done";
  };
  std::optional<std::size_t> lost;
  try {
    run_in_workers(6, {2}, heard.pool);
  } catch (const WorkerLost& e) {
    lost = e.task;
    CHECK(e.what() == std::string("ended by signal 9"));
  }
  CHECK(lost == 3);
  CHECK(test::children_of(::getpid()).empty());
}

TEST_CASE("workers: whoever listens is told how far they are, and what it throws ends them at once") {
  struct Enough {};
  Heard heard;
  heard.pool.work = [](std::size_t, const auto& tell) {
    tell(0.25);
    ::sleep(60);
    return std::string();
  };
  heard.pool.tick = [](double shares) {
    if (shares == 0.5) throw Enough();
  };
  CHECK_THROWS_AS(run_in_workers(4, {2}, heard.pool), Enough);
  CHECK(test::children_of(::getpid()).empty());
}

TEST_CASE("workers: what one tells of its task so far is heard before the end") {
  struct Enough {};
  Heard heard;
  std::map<std::size_t, std::string> so_far;
  heard.pool.so_far = [&](std::size_t i, std::string text) { so_far[i] = std::move(text); };
  heard.pool.work = [](std::size_t i, const WorkerVoice& tell) {
    tell.so_far("half of " + std::to_string(i));
    if (i == 1) ::sleep(60);
    return std::string("all");
  };
  heard.pool.tick = [&](double) {
    if (so_far.size() == 2 && heard.results.size() == 1) throw Enough();
  };
  CHECK_THROWS_AS(run_in_workers(2, {2}, heard.pool), Enough);
  CHECK(so_far == std::map<std::size_t, std::string>{{0, "half of 0"}, {1, "half of 1"}});
  CHECK(heard.results == std::map<std::size_t, std::string>{{0, "all"}});
}

TEST_CASE("workers: a limit counts the processor time of all of them together") {
  Heard heard;
  heard.pool.work = [](std::size_t, const WorkerVoice&) -> std::string {
    for (;;) continue;
  };
  const TimeLimit limit(0.6);
  CHECK_THROWS_AS(run_in_workers(4, {2}, heard.pool, limit), Stopped);
  CHECK(test::children_of(::getpid()).empty());
  // Tasks that sleep spend none, however many.
  heard.pool.work = [](std::size_t, const WorkerVoice&) {
    ::usleep(100'000);
    return std::string();
  };
  run_in_workers(20, {2}, heard.pool, TimeLimit(0.6));
  CHECK(heard.results.size() == 20);
}
