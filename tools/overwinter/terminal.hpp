// What a person sees of a run on the terminal.
#pragma once

#include <chrono>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "models/model.hpp"
#include "sim/ensemble/ensemble.hpp"
#include "sim/revive/revive.hpp"
#include "sim/stop.hpp"

namespace overwinter {

/// The result of a run as text: the verdict, the service, the cell, and where every joule went.
std::string result_text(const nlohmann::ordered_json& summary, const std::string& folder);

/// What `check` says of the weather, of weather_json().
std::string weather_text(const nlohmann::ordered_json& weather);

/// What was given in place of the scenario's values, a line each; of a summary, an ensemble's or of `check`.
std::string overrides_text(const nlohmann::ordered_json&);

/// That, and the faults that were given.
std::string changes_text(const nlohmann::ordered_json&);

/// A text from a file as the terminal may have it: one line, no control characters.
std::string plain(std::string text);

/// A labelled paragraph within 100 columns.
std::string note(const std::string& label, const std::string& text);

/// Of a result that was cut short: what ended it, and where it was by then; nothing of another.
std::string cut_short_text(const nlohmann::ordered_json& result);

/// The cautions for lithium cells that every result carries.
std::string cautions();

/// To standard error, if that can be written.
void complain(const std::string&);

/// A line on standard error that tells how far a run is and about how long it will take, only if that is a terminal;
/// gone with this object.
class ProgressLine {
 public:
  ProgressLine();
  ~ProgressLine();
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;
  /// May be called at every step: it draws five times a second.
  void show(Tick reached, double share);
  void show(const EnsembleProgress&);
  void show(const std::string& doing, double share);
  void show(const ReviveProgress&);

 private:
  bool is_due();
  void draw(const std::string& before, double share, const std::string& after);

  bool terminal_;
  std::chrono::steady_clock::time_point begun_ = std::chrono::steady_clock::now();
  double share_ = 0;
  std::optional<std::chrono::steady_clock::time_point> shown_;
};

/// While it lives, Ctrl-C and its like are noted, so that a run can take away its unfinished files; a second one ends
/// the program at once. Signals that the program was started to ignore stay ignored.
class Interruptible {
 public:
  Interruptible();
  ~Interruptible();
  Interruptible(const Interruptible&) = delete;
  Interruptible& operator=(const Interruptible&) = delete;
  /// Throws Stopped.
  void check() const;
};

}  // namespace overwinter
