// The program as a person runs it.
#pragma once

#include <sys/wait.h>

#include <cstdlib>
#include <string>

#include "tests/support/scratch.hpp"

namespace overwinter::test {

struct Said {
  int code;
  std::string out, err;
  bool says(const std::string& text) const { return out.find(text) != std::string::npos; }
};

inline Said overwinter_says(const std::string& arguments, const Scratch& scratch) {
  const int status = std::system((std::string(OVERWINTER_PROGRAM) + " " + arguments + " >" + scratch.path("out.txt") +
                                  " 2>" + scratch.path("err.txt"))
                                     .c_str());
  return {WIFEXITED(status) ? WEXITSTATUS(status) : -1, scratch.read("out.txt"), scratch.read("err.txt")};
}

}  // namespace overwinter::test
