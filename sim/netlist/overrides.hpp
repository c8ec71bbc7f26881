// Values given in place of what a scenario's file says, such as "cell.capacity=4000 mAh".
//
// A path begins with a section of the scenario or with the name of a part, and goes down by keys:
//   cell.capacity                  a key of a part, as it would stand in the file: it overrides the part's class
//   site.latitude                  a key of a section
//   policy.table[1].every          a row of a list; rows count from 1
//   logger.phases[send].current    a row by the name it carries
//   policy                         all of it
// A section goes before a part of the same name, which is parts.NAME then. The value is written as in the file; null
// restores a default. A section or mapping that the file does not have is made; a list's row is not.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

namespace overwinter {

class Document;
class Faults;

struct Override {
  std::string path, value;
  std::optional<std::string> was = {};  ///< what the file says there, where that is one value
};

inline void to_json(nlohmann::ordered_json& j, const Override& o) {
  j = {{"path", o.path}, {"value", o.value}};
  if (o.was) j["was"] = *o.was;
}

/// "PATH=VALUE". Throws InputError about the option --set.
Override parse_override(const std::string& text);

/// Puts the values into the document, and returns them with what they replaced. Faults about a path are added here;
/// what readers find wrong about a value is told with the option as its place.
std::vector<Override> override_values(Document&, const std::vector<Override>&, Faults&);

}  // namespace overwinter
