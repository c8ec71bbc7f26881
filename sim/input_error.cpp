#include "sim/input_error.hpp"

#include <algorithm>
#include <cctype>
#include <cstdint>
#include <utility>

#include "sim/text.hpp"

namespace overwinter {
namespace {

constexpr int excerpt_width = 100;  // leaves room for the indentation on a terminal of 120 columns
constexpr int excerpt_before = 40;  // what stays visible left of the place in a line that is cut

std::uint32_t code_point(std::string_view character) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(character[i]); };
  if (character.size() == 1) return byte(0);
  std::uint32_t point = byte(0) & (0xFFu >> (character.size() + 1));
  for (std::size_t i = 1; i < character.size(); ++i) point = (point << 6) | (byte(i) & 0x3Fu);
  return point;
}

bool is_control(std::uint32_t point) { return point < 0x20 || (point >= 0x7F && point < 0xA0); }

/// Terminal cells of a character: 0 for combining marks, 2 for the wide blocks (Unicode 15, EastAsianWidth.txt, by
/// block).
int cells(std::uint32_t point) {
  const auto within = [point](std::uint32_t first, std::uint32_t last) { return point >= first && point <= last; };
  if (within(0x300, 0x36F) || within(0x200B, 0x200F) || within(0x20D0, 0x20FF) || within(0xFE00, 0xFE0F)) return 0;
  if (within(0x1100, 0x115F) || within(0x2E80, 0xA4CF) || within(0xAC00, 0xD7A3) || within(0xF900, 0xFAFF) ||
      within(0xFE30, 0xFE6F) || within(0xFF00, 0xFF60) || within(0xFFE0, 0xFFE6) || within(0x1F300, 0x1F64F) ||
      within(0x1F900, 0x1F9FF) || within(0x20000, 0x3FFFD)) {
    return 2;
  }
  return 1;
}

struct Character {
  std::string text;
  int cells;
};

/// The characters of a line, safe to print: a tab becomes a blank, other control characters and what is not UTF-8 a
/// question mark.
std::vector<Character> printable(std::string_view line) {
  std::vector<Character> result;
  for (std::size_t i = 0; i < line.size();) {
    const std::size_t size = well_formed(line, i);
    if (size == 0) {
      result.push_back({"?", 1});
      ++i;
      continue;
    }
    const std::string_view character = line.substr(i, size);
    const std::uint32_t point = code_point(character);
    if (character == "\t") {
      result.push_back({" ", 1});
    } else if (is_control(point)) {
      result.push_back({"?", 1});
    } else {
      result.push_back({std::string(character), cells(point)});
    }
    i += size;
  }
  return result;
}

std::string printable_text(std::string_view text) {
  std::string result;
  for (const Character& c : printable(text)) result += c.text;
  return result;
}

std::string prefix(const Place& place) {
  if (place.file.empty()) return {};
  std::string result = printable_text(place.file) + ":";
  if (place.line > 0) result += std::to_string(place.line) + ":";
  if (place.line > 0 && place.column > 0) result += std::to_string(place.column) + ":";
  return result + " ";
}

/// The source line, cut around the place, and the caret line below it.
std::string excerpt(const std::string& source_line, const Place& place, int width) {
  if (source_line.empty() || place.column < 1) return {};
  const std::vector<Character> line = printable(source_line);
  const int length = static_cast<int>(line.size());
  const int at = std::min(place.column - 1, length);
  int first = 0;
  int last = length;
  if (length > excerpt_width) {
    first = std::clamp(at - excerpt_before, 0, length - excerpt_width);
    last = first + excerpt_width;
  }
  std::string text = first > 0 ? "..." : "";
  std::string carets(text.size(), ' ');
  for (int i = first; i < last; ++i) {
    const Character& c = line[static_cast<std::size_t>(i)];
    text += c.text;
    if (i < at) {
      carets.append(static_cast<std::size_t>(c.cells), ' ');
    } else if (i < at + std::max(width, 1)) {
      carets.append(static_cast<std::size_t>(c.cells), '^');
    }
  }
  if (at >= last) carets += '^';
  if (last < length) text += "...";
  return "    " + text + "\n    " + carets + "\n";
}

/// Insertions, deletions, replacements and swaps of neighbours between two words (Damerau 1964, CACM 7(3), 171-176,
/// restricted to swaps that are not edited again).
int edit_distance(const std::string& a, const std::string& b) {
  std::vector<int> before, above, row;
  for (int j = 0; j <= static_cast<int>(b.size()); ++j) row.push_back(j);
  for (std::size_t i = 1; i <= a.size(); ++i) {
    before = std::exchange(above, row);
    row[0] = static_cast<int>(i);
    for (std::size_t j = 1; j <= b.size(); ++j) {
      row[j] = std::min({above[j] + 1, row[j - 1] + 1, above[j - 1] + (a[i - 1] == b[j - 1] ? 0 : 1)});
      if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) row[j] = std::min(row[j], before[j - 2] + 1);
    }
  }
  return row.back();
}

std::string lower_case(std::string text) {
  for (char& c : text) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
  return text;
}

/// Those that begin with the word ("lat" for latitude), or else contain it.
std::vector<std::string> all_longer(const std::string& word, const std::vector<std::string>& known) {
  constexpr std::size_t shortest_beginning = 3, shortest_part = 4;  // letters that tell words apart
  const std::string sought = lower_case(word);
  std::vector<std::string> begun, containing;
  for (const std::string& candidate : known) {
    const std::size_t at = lower_case(candidate).find(sought);
    if (at == 0 && sought.size() >= shortest_beginning) begun.push_back(candidate);
    if (at != std::string::npos && sought.size() >= shortest_part) containing.push_back(candidate);
  }
  return begun.empty() ? containing : begun;
}

/// The members of `known` at the least edit distance, if that is near enough to suggest them.
std::vector<std::string> all_nearest(const std::string& word, const std::vector<std::string>& known) {
  const std::string sought = lower_case(word);
  int best_distance = static_cast<int>(sought.size()) / 3;  // a third of the characters
  std::vector<std::string> best;
  for (const std::string& candidate : known) {
    const int distance = edit_distance(sought, lower_case(candidate));
    if (distance > best_distance || distance >= static_cast<int>(candidate.size())) continue;
    if (distance < best_distance) best.clear();
    best_distance = distance;
    best.push_back(candidate);
  }
  return best;
}

}  // namespace

InputError::InputError(std::vector<Fault> faults) : faults_(std::move(faults)) {
  for (const Fault& fault : faults_) text_ += (text_.empty() ? "" : "\n\n") + render(fault);
}

std::string render(const Fault& fault) {
  std::string text = prefix(fault.place) + printable_text(fault.message) + "\n";
  text += excerpt(fault.source_line, fault.place, fault.width);
  if (!fault.suggestion.empty()) text += "  try: " + printable_text(fault.suggestion) + "\n";
  for (const Fault::Other& other : fault.others) {
    text += "  " + prefix(other.place) + printable_text(other.message) + "\n";
    text += excerpt(other.source_line, other.place, other.width);
  }
  text.pop_back();
  return text;
}

std::vector<std::string> all_meant(const std::string& word, const std::vector<std::string>& known) {
  const std::vector<std::string> all = all_nearest(word, known);
  return all.empty() ? all_longer(word, known) : all;
}

std::string suggested(const std::string& word, const std::vector<std::string>& known) {
  const std::vector<std::string> all = all_meant(word, known);
  return all.size() > 1 ? "one of " + listed(all) : all.empty() ? "" : all.front();
}

std::string nearest(const std::string& word, const std::vector<std::string>& known) {
  const std::vector<std::string> all = all_nearest(word, known);
  if (!all.empty()) return all.front();
  const std::vector<std::string> longer = all_longer(word, known);
  return longer.size() == 1 ? longer.front() : "";
}

}  // namespace overwinter
