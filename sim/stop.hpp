// How work is told to stop before it is done: by a signal, or by a limit of processor time.
#pragma once

#include <cstddef>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

namespace overwinter {

/// Thrown where work that was told to stop looks whether it was. No std::exception: nothing on its way is to take it
/// for a fault of the simulation.
struct Stopped {
  int signal = 0;         ///< that asked for it; 0: the limit is spent
  std::string kept = {};  ///< the folder in which what was known stands; empty where nothing was
};

/// A limit of processor time, s, from when this was made: of this process, and of the children that it has waited for.
class TimeLimit {
 public:
  explicit TimeLimit(std::optional<double> seconds);
  /// Throws Stopped once it is spent. May be called at every step: it looks at the clock each 32nd time.
  void look();
  /// Looks now; `more` s were spent by children that are at work.
  void look_now(double more) const;

 private:
  std::optional<double> seconds_;
  double begun_ = 0;
  std::size_t calls_ = 0;
};

/// s of processor time of a process that is at work; 0 where it is gone.
double processor_time(int process);

/// `cut_short` of results: `by` is "limit" (with `limit_s`), "signal" (with `signal`), or "end", which stands in a
/// result that is kept while work goes on: whoever finds it there later knows that the program was ended.
nlohmann::ordered_json cut_short_json(const Stopped&, std::optional<double> limit);
nlohmann::ordered_json at_work_json();

/// What a person reads of that: "the limit of 60 s of processor time", "an interruption", ...
std::string cut_short_by(const nlohmann::ordered_json& cut_short);

}  // namespace overwinter
