// What the program as a user starts it costs: time to start, time of short runs, memory.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace overwinter {

struct ProgramCost {
  std::string what;
  double seconds = 0;  ///< wall time, the shortest of a few
  double peak_mebibytes = 0;
};

/// `program`: the overwinter to be started.
std::vector<ProgramCost> measure_program(const std::string& program, const std::string& scenario);
void print(const std::vector<ProgramCost>&);
nlohmann::ordered_json json_of(const std::vector<ProgramCost>&);

}  // namespace overwinter
