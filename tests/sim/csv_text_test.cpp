#include "sim/csv_text.hpp"

#include <doctest/doctest.h>

TEST_CASE("CSV fields are quoted where they must be") {
  CHECK(overwinter::csv_field("plain text") == "plain text");
  CHECK(overwinter::csv_field("a,b") == "\"a,b\"");
  CHECK(overwinter::csv_field("the \"moor\"") == "\"the \"\"moor\"\"\"");
}
