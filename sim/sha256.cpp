#include "sim/sha256.hpp"

#include <fmt/format.h>
#include <openssl/evp.h>

#include <stdexcept>

namespace overwinter {

std::string sha256(const std::string& bytes) {
  unsigned char digest[EVP_MAX_MD_SIZE];
  unsigned int length = 0;
  if (EVP_Digest(bytes.data(), bytes.size(), digest, &length, EVP_sha256(), nullptr) != 1) {
    throw std::runtime_error("the cryptographic library cannot compute SHA-256");
  }
  std::string text;
  for (unsigned int i = 0; i < length; ++i) text += fmt::format("{:02x}", digest[i]);
  return text;
}

}  // namespace overwinter
