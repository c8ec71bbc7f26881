// Faults in what the user gave, with their places.
#pragma once

#include <exception>
#include <string>
#include <vector>

namespace overwinter {

/// A position in an input file. Line and column count from 1 (columns in characters); 0 means unknown.
struct Place {
  std::string file;
  int line = 0;
  int column = 0;
};

struct Fault {
  Place place;
  std::string message;      ///< one sentence without a full stop
  std::string suggestion;   ///< what to do about it; may be empty
  std::string source_line;  ///< the text at the place; may be empty
  int width = 1;            ///< characters the caret underlines
  /// The other place of a conflict, with what stands there.
  struct Other {
    Place place;
    std::string message;
    std::string source_line;
    int width = 1;
  };
  std::vector<Other> others;
};

/// All faults of the input, in the order of their places. The program exits with code 2.
class InputError : public std::exception {
 public:
  explicit InputError(std::vector<Fault> faults);
  const std::vector<Fault>& faults() const { return faults_; }
  const char* what() const noexcept override { return text_.c_str(); }

 private:
  std::vector<Fault> faults_;
  std::string text_;  ///< all faults rendered
};

/// file:line:col, message, source line, caret and suggestion as a person reads them.
std::string render(const Fault&);

/// The member of `known` nearest to `word` by edit distance, or else the only one that begins with it or contains it;
/// empty when there is none to suggest.
std::string nearest(const std::string& word, const std::vector<std::string>& known);

/// All members of `known` that are equally near, or else all that begin with it or contain it.
std::vector<std::string> all_meant(const std::string& word, const std::vector<std::string>& known);

/// The same as a suggestion: empty, the only one, or "one of a, b".
std::string suggested(const std::string& word, const std::vector<std::string>& known);

}  // namespace overwinter
