// Instructions that a load phase takes, counted by callgrind.
#pragma once

#include <nlohmann/json.hpp>
#include <string>

namespace overwinter {

struct InstructionCost {
  std::string missing;   ///< why there are no figures; empty where there are
  int hours = 0;         ///< simulated
  double per_wake = 0;   ///< all between the wakes included, start-up left out
  double per_phase = 0;  ///< of one more load phase: wakes of twelve less wakes of six
};

/// Runs `self`, this program, under callgrind.
InstructionCost count_instructions(const std::string& self, const std::string& scenario);
void print(const InstructionCost&);
nlohmann::ordered_json json_of(const InstructionCost&);

/// The work that is counted: a scenario's first hours at the default tolerance. Tells the number of wakes on standard
/// error.
void run_to_be_counted(const std::string& scenario, int hours);
inline constexpr const char* counted_option = "--counted-run";

}  // namespace overwinter
