// A fresh folder that is the working directory as long as this object lives, so that messages show relative paths.
#pragma once

#include <filesystem>
#include <string>

#include "tests/support/scratch.hpp"

namespace overwinter::test {

class WorkingFolder {
 public:
  WorkingFolder() : before_(std::filesystem::current_path()) { std::filesystem::current_path(scratch_.path("")); }
  ~WorkingFolder() { std::filesystem::current_path(before_); }
  WorkingFolder(const WorkingFolder&) = delete;
  WorkingFolder& operator=(const WorkingFolder&) = delete;

  void write(const std::string& name, const std::string& text) const { scratch_.write(name, text); }

 private:
  Scratch scratch_;
  std::filesystem::path before_;
};

}  // namespace overwinter::test
