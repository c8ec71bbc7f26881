// UTF-8 text as people count it.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace overwinter {

/// Bytes of the character that begins at `at` (1 for a stray byte).
inline std::size_t character_size(std::string_view text, std::size_t at) {
  const auto lead = static_cast<unsigned char>(text[at]);
  const std::size_t size = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : lead >= 0xC0 ? 2 : 1;
  return size <= text.size() - at ? size : text.size() - at;
}

/// Bytes of the well-formed UTF-8 character at `at` (Unicode 15, table 3-7), or 0.
inline std::size_t well_formed(std::string_view text, std::size_t at) {
  const auto byte = [&](std::size_t i) { return i < text.size() ? static_cast<unsigned char>(text[i]) : 0u; };
  const auto tail = [&](std::size_t i) { return (byte(i) & 0xC0u) == 0x80u; };
  const unsigned lead = byte(at);
  if (lead < 0x80) return 1;
  if (lead >= 0xC2 && lead < 0xE0) return tail(at + 1) ? 2 : 0;
  if (lead >= 0xE0 && lead < 0xF0) {
    const bool overlong = lead == 0xE0 && byte(at + 1) < 0xA0;
    const bool surrogate = lead == 0xED && byte(at + 1) >= 0xA0;
    return tail(at + 1) && tail(at + 2) && !overlong && !surrogate ? 3 : 0;
  }
  if (lead >= 0xF0 && lead < 0xF5) {
    const bool overlong = lead == 0xF0 && byte(at + 1) < 0x90;
    const bool too_large = lead == 0xF4 && byte(at + 1) >= 0x90;
    return tail(at + 1) && tail(at + 2) && tail(at + 3) && !overlong && !too_large ? 4 : 0;
  }
  return 0;
}

/// The number of characters (code points).
inline int characters(std::string_view text) {
  int count = 0;
  for (std::size_t i = 0; i < text.size(); i += character_size(text, i)) ++count;
  return count;
}

inline std::string trimmed(std::string_view text) {
  const std::size_t begin = text.find_first_not_of(" \t\n");
  if (begin == std::string_view::npos) return {};
  return std::string(text.substr(begin, text.find_last_not_of(" \t\n") - begin + 1));
}

/// A key as words: "longest_gap" becomes "longest gap".
inline std::string worded(std::string key) {
  for (char& c : key) {
    if (c == '_') c = ' ';
  }
  return key;
}

/// A user's text in quotes for a message, shortened to what a line can bear.
inline std::string in_quotes(std::string_view text) {
  constexpr int longest = 48;
  std::size_t end = 0;
  for (int n = 0; end < text.size() && n < longest; ++n) end += character_size(text, end);
  return "'" + std::string(text.substr(0, end)) + (end < text.size() ? "...'" : "'");
}

/// "1 wake", "2 wakes".
inline std::string how_many(const std::string& n, const std::string& what) {
  return n + " " + what + (n == "1" ? "" : "s");
}

/// "a, b, c"; the end of a long list is left out.
inline std::string listed(const std::vector<std::string>& words) {
  constexpr std::size_t most = 12;
  std::string text;
  for (std::size_t i = 0; i < words.size() && i < most; ++i) text += (i ? ", " : "") + words[i];
  return words.size() > most ? text + ", ..." : text;
}

}  // namespace overwinter
