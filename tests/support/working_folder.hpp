// A fresh folder that is the working directory as long as this object lives, so that messages show relative paths.
#pragma once

#include <filesystem>

#include "tests/support/scratch.hpp"

namespace overwinter::test {

class WorkingFolder : public Scratch {
 public:
  WorkingFolder() : before_(std::filesystem::current_path()) { std::filesystem::current_path(path("")); }
  ~WorkingFolder() { std::filesystem::current_path(before_); }
  WorkingFolder(const WorkingFolder&) = delete;
  WorkingFolder& operator=(const WorkingFolder&) = delete;

 private:
  std::filesystem::path before_;
};

}  // namespace overwinter::test
