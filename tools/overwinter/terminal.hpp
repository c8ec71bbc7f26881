// What a person sees of a run on the terminal.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace overwinter {

/// The result of a run as text: the verdict, the service, the cell, and where every joule went.
std::string result_text(const nlohmann::ordered_json& summary, const std::string& folder);

/// A labelled paragraph within 100 columns.
std::string note(const std::string& label, const std::string& text);

/// The cautions for lithium cells that every result carries.
std::string cautions();

/// A progress bar on standard error, only if that is a terminal.
class ProgressBar {
 public:
  explicit ProgressBar(std::string label);
  ~ProgressBar();
  void show(double share);

 private:
  std::string label_;
  bool terminal_;
  int shown_ = -1;
};

}  // namespace overwinter
