#include "tools/benchmark/child.hpp"

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <fstream>
#include <stdexcept>

namespace overwinter {

Finished run_child(const std::vector<std::string>& command) {
  std::vector<char*> arguments;
  for (const std::string& word : command) arguments.push_back(const_cast<char*>(word.c_str()));
  arguments.push_back(nullptr);
  int pipe_ends[2];
  if (pipe(pipe_ends) != 0) throw std::runtime_error("no pipe to another program");
  const auto started = std::chrono::steady_clock::now();
  const pid_t child = fork();
  if (child < 0) throw std::runtime_error("no process for " + command.front());
  if (child == 0) {
    const int nowhere = open("/dev/null", O_WRONLY);
    dup2(nowhere, STDOUT_FILENO);
    dup2(pipe_ends[1], STDERR_FILENO);
    close(pipe_ends[0]);
    close(pipe_ends[1]);
    execvp(arguments.front(), arguments.data());
    _exit(127);
  }
  close(pipe_ends[1]);
  Finished finished;
  char buffer[4096];
  for (ssize_t n; (n = read(pipe_ends[0], buffer, sizeof buffer)) > 0;) {
    finished.said.append(buffer, static_cast<std::size_t>(n));
  }
  close(pipe_ends[0]);
  int status = 0;
  rusage usage{};
  wait4(child, &status, 0, &usage);
  finished.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - started).count();
  finished.peak_mebibytes = static_cast<double>(usage.ru_maxrss) / 1024;
  finished.code = WIFEXITED(status) ? WEXITSTATUS(status) : 128;
  return finished;
}

Finished best_of(int runs, const std::vector<std::string>& command, int most) {
  Finished best;
  for (int run = 0; run < runs; ++run) {
    Finished finished = run_child(command);
    if (finished.code > most) throw std::runtime_error(command.front() + " failed: " + finished.said);
    if (run == 0 || finished.seconds < best.seconds) best = std::move(finished);
  }
  return best;
}

TemporaryFolder::TemporaryFolder() {
  std::string name = std::filesystem::temp_directory_path().string() + "/benchmark-XXXXXX";
  if (!mkdtemp(name.data())) throw std::runtime_error("no temporary folder can be made");
  path_ = name;
}

TemporaryFolder::~TemporaryFolder() {
  std::error_code ignored;
  std::filesystem::remove_all(path_, ignored);
}

std::string TemporaryFolder::write(const std::string& name, const std::string& text) const {
  std::ofstream file(path(name), std::ios::binary);
  file << text;
  file.close();
  if (!file) throw std::runtime_error(path(name) + " cannot be written");
  return path(name);
}

}  // namespace overwinter
