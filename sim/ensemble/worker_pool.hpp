// Tasks done in forked processes.
//
// Everything that was prepared before is shared with the workers, copy-on-write. A worker takes one task after the
// other over a socket; a free one gets the next, so that long tasks hold nobody up. A worker that dies is replaced, and
// its task given out once more; one that has simulated centuries is replaced after a task. Workers ignore SIGINT and
// SIGHUP, which a terminal sends to all: the parent decides. They die with the parent, whatever ends it (prctl(2),
// PR_SET_PDEATHSIG), and none is left when run_in_workers() returns or throws.
#pragma once

#include <cstddef>
#include <functional>
#include <stdexcept>
#include <string>

#include "sim/stop.hpp"

namespace overwinter {

struct WorkerOptions {
  /// Worker processes, at least 1.
  std::size_t jobs = 1;
  /// A worker that has simulated this many years is replaced by a fresh process: kernel time (sim/discrete/kernel.hpp)
  /// ends after 292.
  double years_per_worker = 200;
};

/// What a worker tells of the task that it is at.
class WorkerVoice {
 public:
  virtual ~WorkerVoice() = default;
  /// The share that is done.
  virtual void operator()(double share) const = 0;
  /// What would be its result if it ended now.
  virtual void so_far(const std::string& result) const = 0;
};

struct PoolWork {
  /// In a worker: the result of a task. May tell at will how far it is. What it throws is the task's failure.
  std::function<std::string(std::size_t task, const WorkerVoice& tell)> work;
  /// In the parent, in the order of completion.
  std::function<void(std::size_t task, std::string result)> done;
  std::function<void(std::size_t task, const std::string& why)> failed;
  /// In the parent: what a worker told of a task in work. May be empty.
  std::function<void(std::size_t task, std::string result)> so_far = {};
  /// In the parent, at least five times a second: the shares of the tasks in work, summed up. What it throws ends all.
  std::function<void(double shares)> tick;
};

/// Two workers died over the same task.
class WorkerLost : public std::runtime_error {
 public:
  WorkerLost(std::size_t which, const std::string& how) : std::runtime_error(how), task(which) {}
  std::size_t task;
};

/// Does the tasks 0...tasks-1. Throws WorkerLost; std::system_error where no process can be started; Stopped once
/// `limit` is spent by this process and all workers together.
void run_in_workers(std::size_t tasks, const WorkerOptions&, const PoolWork&, const TimeLimit& limit = TimeLimit({}));

}  // namespace overwinter
