// The folder a run writes: prepared beside its final place and put there in one step, so that it is either the former
// result or the whole new one.
#pragma once

#include <filesystem>
#include <string>

namespace overwinter {

class RunFolder {
 public:
  /// Makes the temporary folder beside `target` and sweeps those that killed runs left there. Throws InputError when
  /// the place cannot be used: not a folder, not writable, or it holds files that no run wrote.
  explicit RunFolder(std::filesystem::path target);
  /// Removes the temporary folder unless publish() has run.
  ~RunFolder();
  RunFolder(const RunFolder&) = delete;
  RunFolder& operator=(const RunFolder&) = delete;

  /// Where a file of this name is to be written.
  std::filesystem::path file(const std::string& name) const { return temporary_ / name; }
  /// Writes a whole file. Throws std::runtime_error.
  void write(const std::string& name, const std::string& text) const;
  /// Puts the folder in its final place. Throws std::system_error.
  void publish();

 private:
  std::filesystem::path target_, temporary_;
};

/// What a run, an ensemble, a revival and a zoom write.
inline constexpr const char* result_entries[] = {
    "summary.json", "trace.csv",  "events.csv",    "report.html",   "ensemble.json",  "members.csv", "members",
    "revive.json",  "revive.csv", "waveforms.csv", "waveforms.vcd", "waveforms.html", "moment.json"};

}  // namespace overwinter
