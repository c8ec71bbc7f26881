#include "sim/sha256.hpp"

#include <doctest/doctest.h>

TEST_CASE("SHA-256 of the example messages") {
  // NIST, FIPS 180 example values: "abc" and the empty message.
  CHECK(overwinter::sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
  CHECK(overwinter::sha256("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}
