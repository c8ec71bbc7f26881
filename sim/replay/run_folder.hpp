// The folder a command writes: prepared beside its final place and put there in one step, so that it is either the
// former result or the whole new one. What is known when the work ends early goes beside it, into NAME-partial.
#pragma once

#include <algorithm>
#include <chrono>
#include <filesystem>
#include <optional>
#include <string>

namespace overwinter {

/// Whether part of a result is worth keeping.
enum class Kept { whole, partly };

class RunFolder {
 public:
  /// Makes the temporary folder beside `target` and sweeps those that killed runs left there. Throws InputError when
  /// the place cannot be used, or that of a partial result where one may be kept: not a folder, not writable, or it
  /// holds files that no run wrote.
  explicit RunFolder(std::filesystem::path target, Kept kept = Kept::whole);
  /// Removes what is temporary: all, unless publish() or keep() has run.
  ~RunFolder();
  RunFolder(const RunFolder&) = delete;
  RunFolder& operator=(const RunFolder&) = delete;

  /// Where a file of this name is to be written.
  std::filesystem::path file(const std::string& name) const { return at_ / name; }
  /// Writes a whole file, in the place of one that has the name: whoever looks finds the former or the new one. Throws
  /// std::runtime_error.
  void write(const std::string& name, const std::string& text) const;
  /// Puts what there is so far at the target's name with -partial behind it, where it stays if nothing follows, even if
  /// the program is killed; more may be written. Throws std::system_error.
  void keep();
  bool is_kept() const { return at_ == partial_; }
  /// That place, as a person is told of it.
  const std::string& partial() const { return told_; }
  /// Puts the folder in its final place. A former partial result stands where it stood. Throws std::system_error.
  void publish();

 private:
  std::filesystem::path target_, partial_, temporary_;
  std::filesystem::path at_;  ///< where the files are now
  std::string told_;
};

/// Says when what is known is to be written once more while work goes on, so that this takes a small share of the time.
class Refresh {
 public:
  /// At first, and then once a second at most, or after 20 times as long as the last writing took.
  template <class Write>
  void now_and_then(Write&& write) {
    const auto now = std::chrono::steady_clock::now();
    if (next_ && now < *next_) return;
    write();
    const auto took = std::chrono::steady_clock::now() - now;
    next_ = now + std::max<std::chrono::steady_clock::duration>(std::chrono::seconds(1), 20 * took);
  }

 private:
  std::optional<std::chrono::steady_clock::time_point> next_;
};

/// What a run, an ensemble, a revival, a why and a zoom write.
inline constexpr const char* result_entries[] = {
    "summary.json", "trace.csv",  "events.csv",    "report.html",   "ensemble.json",  "members.csv", "members",
    "revive.json",  "revive.csv", "waveforms.csv", "waveforms.vcd", "waveforms.html", "moment.json", "why.json"};

}  // namespace overwinter
