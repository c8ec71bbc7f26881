// The program at work, to be looked at and ended.
#pragma once

#include <doctest/doctest.h>
#include <fcntl.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <string>
#include <thread>
#include <vector>

#include "tests/support/processes.hpp"
#include "tests/support/scratch.hpp"

namespace overwinter::test {

struct Ended {
  int status = 0;
  std::string err;
  double processor_s = 0;  ///< of it and of the workers that it waited for
  bool by(int signal) const { return WIFSIGNALED(status) && WTERMSIG(status) == signal; }
};

/// A program with a process group of its own, its standard error in err.txt.
class RunningProgram {
 public:
  RunningProgram(const Scratch& scratch, std::vector<std::string> arguments) : scratch_(scratch) {
    arguments.insert(arguments.begin(), OVERWINTER_PROGRAM);
    std::vector<char*> words;
    for (std::string& a : arguments) words.push_back(a.data());
    words.push_back(nullptr);
    id_ = ::fork();
    REQUIRE(id_ >= 0);
    if (id_ > 0) return;
    ::setpgid(0, 0);
    const int err = ::open(scratch.path("err.txt").c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
    const int out = ::open("/dev/null", O_WRONLY);
    ::dup2(out, STDOUT_FILENO);
    ::dup2(err, STDERR_FILENO);
    ::execv(OVERWINTER_PROGRAM, words.data());
    ::_exit(127);
  }
  ~RunningProgram() {
    if (id_ > 0) ::kill(-id_, SIGKILL), ::waitpid(id_, nullptr, 0);
  }
  RunningProgram(const RunningProgram&) = delete;
  RunningProgram& operator=(const RunningProgram&) = delete;

  pid_t id() const { return id_; }
  /// Waits until it has `count` workers, none of them `other`.
  std::vector<pid_t> workers(std::size_t count, pid_t other = 0) const {
    std::vector<pid_t> all;
    for (int i = 0; i < 2000; ++i) {
      all = children_of(id_);
      if (all.size() == count && std::count(all.begin(), all.end(), other) == 0) return all;
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
    FAIL("the workers did not come");
    return all;
  }
  /// Waits until that folder or file is there.
  void until(const std::string& path) const {
    for (int i = 0; i < 12000 && !std::filesystem::exists(path); ++i)
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    REQUIRE(std::filesystem::exists(path));
  }
  Ended wait() {
    Ended ended;
    rusage used = {};
    ::wait4(id_, &ended.status, 0, &used);
    ended.processor_s = static_cast<double>(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
                        1e-6 * static_cast<double>(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
    ended.err = scratch_.read("err.txt");
    group_ = id_;
    id_ = 0;
    return ended;
  }
  /// Whether all of its processes end within seconds.
  bool all_gone() const {
    for (int i = 0; i < 1000 && running_in_group(group_) > 0; ++i)
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    return running_in_group(group_) == 0;
  }

 private:
  const Scratch& scratch_;
  pid_t id_ = 0, group_ = 0;
};

}  // namespace overwinter::test
