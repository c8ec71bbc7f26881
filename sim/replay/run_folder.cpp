#include "sim/replay/run_folder.hpp"

#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <fstream>
#include <stdexcept>
#include <system_error>

#include "sim/input_error.hpp"

namespace overwinter {

namespace fs = std::filesystem;

namespace {

constexpr const char* mark = ".unfinished-";

InputError unusable(const fs::path& target, const std::string& message, const std::string& suggestion) {
  Fault fault;
  fault.place.file = target.string();
  fault.message = message;
  fault.suggestion = suggestion;
  return InputError({fault});
}

/// Temporary folders are named after the process that fills them; one whose process is gone is left over.
void sweep(const fs::path& parent, const std::string& prefix) {
  std::error_code ignored;
  for (const fs::directory_entry& entry : fs::directory_iterator(parent, ignored)) {
    const std::string name = entry.path().filename().string();
    if (name.compare(0, prefix.size(), prefix) != 0) continue;
    const long process = std::strtol(name.c_str() + prefix.size(), nullptr, 10);
    if (process > 0 && ::kill(static_cast<pid_t>(process), 0) != 0 && errno == ESRCH)
      fs::remove_all(entry.path(), ignored);
  }
}

}  // namespace

RunFolder::RunFolder(fs::path target) : target_(fs::absolute(std::move(target)).lexically_normal()) {
  if (target_.filename().empty()) target_ = target_.parent_path();
  std::error_code error;
  if (fs::is_symlink(target_, error)) {  // the folder is replaced, not the link to it
    const fs::path real = fs::canonical(target_, error);
    if (!error) target_ = real;
  }
  const auto refuse_strange = [this](const std::string& name) {
    throw unusable(target_, "the results cannot go here: the folder holds \"" + name + "\", which no run wrote",
                   "name a new folder with --out, or move that file away");
  };
  if (fs::exists(target_, error)) {
    if (!fs::is_directory(target_, error)) {
      throw unusable(target_, "the results cannot go here: it is a file", "name a folder with --out");
    }
    for (const fs::directory_entry& entry : fs::directory_iterator(target_, error)) {
      const std::string name = entry.path().filename().string();
      if (name == "members") {
        for (const fs::directory_entry& member : fs::directory_iterator(entry.path(), error)) {
          if (member.path().extension() != ".json") refuse_strange("members/" + member.path().filename().string());
        }
      }
      if (std::find(std::begin(result_entries), std::end(result_entries), name) == std::end(result_entries)) {
        refuse_strange(name);
      }
    }
  }
  const fs::path parent = target_.parent_path();
  fs::create_directories(parent, error);
  const std::string prefix = "." + target_.filename().string() + mark;
  if (!error) sweep(parent, prefix);
  temporary_ = parent / (prefix + std::to_string(::getpid()));
  if (!error) fs::create_directory(temporary_, error);
  if (error) throw unusable(parent, "the results cannot go here: " + error.message(), "name another folder with --out");
}

RunFolder::~RunFolder() {
  std::error_code ignored;
  if (!temporary_.empty()) fs::remove_all(temporary_, ignored);
}

void RunFolder::write(const std::string& name, const std::string& text) const {
  std::ofstream stream(file(name), std::ios::binary);
  stream << text;
  stream.flush();
  if (!stream) throw std::runtime_error(name + " could not be written completely (is the disk full?)");
}

void RunFolder::publish() {
  // A rename onto a folder that is not empty fails; exchanging the two leaves no moment without a result.
  if (::renameat2(AT_FDCWD, temporary_.c_str(), AT_FDCWD, target_.c_str(), RENAME_NOREPLACE) == 0) {
    temporary_.clear();
    return;
  }
  if (errno != EEXIST || ::renameat2(AT_FDCWD, temporary_.c_str(), AT_FDCWD, target_.c_str(), RENAME_EXCHANGE) != 0) {
    throw std::system_error(errno, std::generic_category(), "cannot put the results at " + target_.string());
  }
}

}  // namespace overwinter
