// The mechanisms of brown-out and of not coming back that a run can meet, each with its id.
#pragma once

#include <cstddef>
#include <string>
#include <vector>

namespace overwinter {

struct Mechanism {
  std::string id;       ///< kebab-case, for scripts
  std::string what;     ///< one sentence without a full stop
  std::string removal;  ///< what removes it
};

/// In the order in which results list them.
const std::vector<Mechanism>& mechanisms();

/// Its place in mechanisms(). Throws std::logic_error for an id that is not there.
std::size_t rank_of_mechanism(const std::string& id);

/// The cause id of a brown-out that none of them explains, with a fault in force that the user gave.
inline constexpr const char* by_fault = "fault";
/// The same without one.
inline constexpr const char* unexplained = "unexplained";

}  // namespace overwinter
