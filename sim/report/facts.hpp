// Reads a summary in which any key may be missing, null or of another type.
#pragma once

#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

namespace overwinter {

using Facts = nlohmann::ordered_json;

/// The member, or null.
inline const Facts& member(const Facts& facts, const char* key) {
  static const Facts none;
  if (!facts.is_object()) return none;
  const auto found = facts.find(key);
  return found == facts.end() ? none : *found;
}

/// Finite, or nothing.
inline std::optional<double> number_of(const Facts& fact) {
  if (!fact.is_number()) return std::nullopt;
  const double value = fact.get<double>();
  return std::isfinite(value) ? std::optional<double>(value) : std::nullopt;
}

inline std::optional<bool> truth_of(const Facts& fact) {
  return fact.is_boolean() ? std::optional<bool>(fact.get<bool>()) : std::nullopt;
}

/// Empty unless it is a text.
inline std::string text_of(const Facts& fact) { return fact.is_string() ? fact.get<std::string>() : std::string(); }

inline std::vector<std::string> texts_of(const Facts& facts) {
  std::vector<std::string> texts;
  if (!facts.is_array()) return texts;
  for (const Facts& fact : facts) {
    if (fact.is_string()) texts.push_back(fact.get<std::string>());
  }
  return texts;
}

}  // namespace overwinter
