// The fast stepper against the reference one on the shipped scenarios, both at the default tolerance.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

namespace overwinter {

struct StepperAgreement {
  std::string scenario;
  double time_ratio = 0;                   ///< reference over phases
  double charge_difference = 0;            ///< largest at any hour, 0...1
  std::size_t events = 0;                  ///< that the service is told of
  std::optional<double> event_difference;  ///< s, the largest; empty where they are others
  std::size_t alike = 0;                   ///< events before the first one that is another
};

/// Every scenario below `folder` but those whose file has the name `but`.
std::vector<StepperAgreement> compare_steppers(const std::string& folder, const std::string& but);
void print(const std::vector<StepperAgreement>&);
nlohmann::ordered_json json_of(const std::vector<StepperAgreement>&);

}  // namespace overwinter
