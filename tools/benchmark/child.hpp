// Other programs, started and looked at.
#pragma once

#include <string>
#include <vector>

namespace overwinter {

struct Finished {
  int code = -1;              ///< exit code; 127 where the program could not be started
  double seconds = 0;         ///< wall time
  double peak_mebibytes = 0;  ///< largest resident size; not below this program's own, which it began as a copy of
  std::string said;           ///< on standard error
};

/// Runs a program, found along PATH, and waits for it; its standard output is thrown away. Throws std::runtime_error
/// where no process can be made.
Finished run_child(const std::vector<std::string>& command);

/// The shortest time and its peak of several runs. Throws std::runtime_error where one ends with a code above `most`.
Finished best_of(int runs, const std::vector<std::string>& command, int most = 0);

/// A folder of its own below the system's temporary one, removed at the end.
class TemporaryFolder {
 public:
  TemporaryFolder();
  ~TemporaryFolder();
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  std::string path(const std::string& name) const { return path_ + "/" + name; }
  /// Writes a file; its path.
  std::string write(const std::string& name, const std::string& text) const;

 private:
  std::string path_;
};

}  // namespace overwinter
