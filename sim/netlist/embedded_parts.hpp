// The part classes of models/parts, embedded at build time.
#pragma once

#include <string>
#include <vector>

namespace overwinter {

struct EmbeddedFile {
  std::string name;  ///< file name without folder
  std::string text;
};

const std::vector<EmbeddedFile>& embedded_parts();

}  // namespace overwinter
