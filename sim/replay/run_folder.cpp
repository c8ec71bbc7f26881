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

/// The folder itself, where a link leads to it: it is replaced, and not the link.
fs::path real_place(fs::path place) {
  place = fs::absolute(std::move(place)).lexically_normal();
  if (place.filename().empty()) place = place.parent_path();
  std::error_code error;
  if (!fs::is_symlink(place, error)) return place;
  fs::path real = fs::canonical(place, error);
  return error ? place : real;
}

/// Throws InputError where it is none of ours.
void require_ours(const fs::path& place) {
  std::error_code error;
  if (!fs::exists(place, error)) return;
  if (!fs::is_directory(place, error)) {
    throw unusable(place, "the results cannot go here: it is a file", "name a folder with --out");
  }
  const auto refuse_strange = [&](const std::string& name) {
    throw unusable(place, "the results cannot go here: the folder holds \"" + name + "\", which no run wrote",
                   "name a new folder with --out, or move that file away");
  };
  for (const fs::directory_entry& entry : fs::directory_iterator(place, error)) {
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

/// Puts a folder where another may stand, which then is where that one was. False where none stood there.
bool exchange(const fs::path& from, const fs::path& to) {
  // A rename onto a folder that is not empty fails; exchanging the two leaves no moment without a result.
  if (::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_NOREPLACE) == 0) return false;
  if (errno != EEXIST || ::renameat2(AT_FDCWD, from.c_str(), AT_FDCWD, to.c_str(), RENAME_EXCHANGE) != 0) {
    throw std::system_error(errno, std::generic_category(), "cannot put the results at " + to.string());
  }
  return true;
}

}  // namespace

RunFolder::RunFolder(fs::path target, Kept kept) : target_(real_place(target)) {
  require_ours(target_);
  partial_ = target_.string() + "-partial";
  if (target.has_filename() && !fs::is_symlink(target)) {
    told_ = target.string() + "-partial";
  } else {
    told_ = partial_.string();
  }
  if (kept == Kept::partly) require_ours(partial_);
  const fs::path parent = target_.parent_path();
  std::error_code error;
  fs::create_directories(parent, error);
  const std::string prefix = "." + target_.filename().string() + mark;
  if (!error) sweep(parent, prefix);
  temporary_ = parent / (prefix + std::to_string(::getpid()));
  if (!error) fs::create_directory(temporary_, error);
  if (error) throw unusable(parent, "the results cannot go here: " + error.message(), "name another folder with --out");
  at_ = temporary_;
}

RunFolder::~RunFolder() {
  std::error_code ignored;
  if (!temporary_.empty()) fs::remove_all(temporary_, ignored);
}

void RunFolder::write(const std::string& name, const std::string& text) const {
  const auto put = [&](const fs::path& path) {
    std::ofstream stream(path, std::ios::binary);
    stream << text;
    stream.flush();
    if (!stream) throw std::runtime_error(name + " could not be written completely (is the disk full?)");
  };
  if (!is_kept()) return put(file(name));
  // Beside the folder, where the next run sweeps what a killed one leaves.
  const fs::path whole = temporary_.string() + ".file";
  put(whole);
  std::error_code error;
  fs::rename(whole, file(name), error);
  if (!error) return;
  fs::remove(whole, error);
  throw std::runtime_error(name + " could not be written");
}

void RunFolder::keep() {
  if (is_kept()) return;
  exchange(temporary_, partial_);  // a former partial result is the temporary folder then
  at_ = partial_;
}

void RunFolder::publish() {
  if (is_kept()) {  // a former partial result back to its place, in one step
    at_ = temporary_;
    std::error_code ignored;
    if (fs::exists(temporary_, ignored)) {
      exchange(partial_, temporary_);
    } else {
      fs::rename(partial_, temporary_);
    }
  }
  exchange(temporary_, target_);
}

}  // namespace overwinter
