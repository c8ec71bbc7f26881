#include "sim/netlist/files.hpp"

#include <algorithm>
#include <fstream>
#include <iterator>
#include <system_error>
#include <vector>

#include "sim/input_error.hpp"

namespace overwinter {

namespace fs = std::filesystem;

std::optional<std::string> read_file(const fs::path& path, std::string& why) {
  std::error_code ignored;
  const fs::file_status status = fs::status(path, ignored);
  if (status.type() == fs::file_type::not_found) {
    why = "does not exist";
    return std::nullopt;
  }
  if (fs::is_directory(status)) {
    why = "is a folder";
    return std::nullopt;
  }
  if (fs::exists(status) && !fs::is_regular_file(status)) {
    why = "is not a regular file";
    return std::nullopt;
  }
  std::ifstream in(path, std::ios::binary);
  std::string text{std::istreambuf_iterator<char>(in), {}};
  if (!in || in.bad()) {
    why = "cannot be read";
    return std::nullopt;
  }
  return text;
}

std::string nearest_file(const fs::path& path) {
  std::error_code error;
  std::vector<std::string> alike, others;
  const fs::path folder = path.has_parent_path() ? path.parent_path() : fs::path(".");
  for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error)) {
    const fs::path name = it->path().filename();
    if (name == path.filename() || !it->is_regular_file(error)) continue;
    const bool same_kind = name.extension() == path.extension();
    (same_kind ? alike : others).push_back((same_kind ? name.stem() : name).string());
  }
  std::sort(alike.begin(), alike.end());
  std::sort(others.begin(), others.end());
  // Without the common extension, lest it make any two short names look alike.
  const std::string near = nearest(path.stem().string(), alike);
  return near.empty() ? nearest(path.filename().string(), others) : near + path.extension().string();
}

}  // namespace overwinter
