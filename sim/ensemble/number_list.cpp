#include "sim/ensemble/number_list.hpp"

#include <charconv>
#include <set>

#include "sim/text.hpp"

namespace overwinter {
namespace {

std::optional<int> whole(const std::string& text) {
  int value = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (text.empty() || text[0] == '-' || error != std::errc() || end != text.data() + text.size()) return std::nullopt;
  return value;
}

std::string range(int first, int last) { return std::to_string(first) + ".." + std::to_string(last); }

}  // namespace

std::optional<std::vector<int>> parse_number_list(const std::string& text, int least, int most, TextFault& why) {
  const auto fail = [&](std::string message, std::string suggestion) {
    why = {std::move(message), std::move(suggestion), 0, text.size()};
    return std::nullopt;
  };
  std::vector<int> numbers;
  std::set<int> seen;
  for (std::size_t at = 0; at <= text.size();) {
    const std::size_t end = std::min(text.find(',', at), text.size());
    const std::string item = trimmed(text.substr(at, end - at));
    at = end + 1;
    const std::size_t dots = item.find("..");
    const bool is_range = dots != std::string::npos;
    const std::optional<int> first = whole(trimmed(item.substr(0, dots)));
    const std::optional<int> last = is_range ? whole(trimmed(item.substr(dots + 2))) : first;
    const int example = least > 0 ? least : 1;
    if (!first || !last) {
      return fail(in_quotes(item) + " is neither a whole number nor a range",
                  range(example, example + 9) + ", or " + std::to_string(example) + "," + std::to_string(example + 1));
    }
    if (*last < *first) return fail("the range " + item + " runs backwards", range(*last, *first));
    for (const int n : {*first, *last}) {
      if (n < least || n > most) {
        return fail(std::to_string(n) + " is out of range",
                    "numbers from " + std::to_string(least) + " to " + std::to_string(most));
      }
    }
    if (static_cast<std::size_t>(*last - *first) >= most_members - numbers.size()) {
      return fail("these are more than " + std::to_string(most_members) + " members", "a shorter range");
    }
    for (int n = *first; n <= *last; ++n) {
      if (!seen.insert(n).second) return fail(std::to_string(n) + " is given twice", "each number once");
      numbers.push_back(n);
    }
  }
  return numbers;
}

}  // namespace overwinter
