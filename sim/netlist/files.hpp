// Input files.
#pragma once

#include <filesystem>
#include <optional>
#include <string>

namespace overwinter {

/// The bytes of a file. None, and the reason in `why` ("does not exist", "is a folder", "is not a regular file",
/// "cannot be read").
std::optional<std::string> read_file(const std::filesystem::path&, std::string& why);

/// Another name in the same folder that is nearest to this one; empty if none is near.
std::string nearest_file(const std::filesystem::path&);

}  // namespace overwinter
