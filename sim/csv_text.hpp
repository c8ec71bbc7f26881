// CSV as results are written in.
#pragma once

#include <string>

namespace overwinter {

/// A field of a row after RFC 4180.
inline std::string csv_field(const std::string& text) {
  if (text.find_first_of(",\"\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
  return quoted + "\"";
}

}  // namespace overwinter
