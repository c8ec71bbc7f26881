// A shipped scenario, changed, as text that reads the same from any folder.
#pragma once

#include <filesystem>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace overwinter::test {

/// `name` below scenarios/. Each edit says what stands in it once, and what shall stand there instead.
inline std::string shipped(const std::string& name, std::vector<std::pair<std::string, std::string>> edits) {
  const std::filesystem::path scenarios = std::filesystem::path(OVERWINTER_SOURCE) / "scenarios";
  std::ifstream file(scenarios / name, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(file), {}};
  const std::string up = std::filesystem::path(name).has_parent_path() ? "../" : "";
  edits.emplace_back("{file: " + up + "peat-bog.epw}", "{file: " + (scenarios / "peat-bog.epw").string() + "}");
  for (const auto& [from, to] : edits) {
    const std::size_t at = text.find(from);
    if (at == std::string::npos) throw std::logic_error("no '" + from + "' in " + name);
    text.replace(at, from.size(), to);
  }
  return text;
}

}  // namespace overwinter::test
