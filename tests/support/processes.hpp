// What /proc tells of processes.
#pragma once

#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

namespace overwinter::test {

struct ProcessState {
  pid_t id = 0;
  char state = 0;  ///< 'Z' for one that has ended and was not waited for
  pid_t parent = 0, group = 0;
};

inline std::vector<ProcessState> processes() {
  std::vector<ProcessState> all;
  std::error_code gone;
  for (const auto& entry : std::filesystem::directory_iterator("/proc", gone)) {
    const std::string name = entry.path().filename().string();
    if (name.find_first_not_of("0123456789") != std::string::npos) continue;
    std::ifstream file(entry.path() / "stat");
    std::string text;
    if (!std::getline(file, text)) continue;
    ProcessState p;
    p.id = static_cast<pid_t>(std::stol(name));
    std::istringstream rest(text.substr(text.rfind(')') + 1));
    rest >> p.state >> p.parent >> p.group;
    all.push_back(p);
  }
  return all;
}

/// Zombies among them.
inline std::vector<pid_t> children_of(pid_t parent) {
  std::vector<pid_t> children;
  for (const ProcessState& p : processes()) {
    if (p.parent == parent) children.push_back(p.id);
  }
  return children;
}

inline std::size_t running_in_group(pid_t group) {
  std::size_t count = 0;
  for (const ProcessState& p : processes()) count += p.group == group && p.state != 'Z';
  return count;
}

/// Resident pages of this process that are its own, bytes.
inline std::size_t own_memory() {
  std::ifstream file("/proc/self/statm");
  std::size_t size = 0, resident = 0, shared = 0;
  file >> size >> resident >> shared;
  return (resident - shared) * static_cast<std::size_t>(::sysconf(_SC_PAGESIZE));
}

}  // namespace overwinter::test
