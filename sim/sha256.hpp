// Fingerprint of an input.
#pragma once

#include <string>

namespace overwinter {

/// SHA-256 (FIPS 180-4) of the bytes, as 64 lower-case hexadecimal digits.
std::string sha256(const std::string& bytes);

}  // namespace overwinter
