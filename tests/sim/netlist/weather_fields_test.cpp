#include "sim/netlist/weather_fields.hpp"

#include <doctest/doctest.h>

#include <iterator>

#include "sim/netlist/units_text.hpp"

using namespace overwinter;

TEST_CASE("every separator has a name, and the columns' units are known") {
  CHECK(csv_separator_names().size() == std::size(csv_separators));
  for (const WeatherColumn& column : weather_columns()) {
    CAPTURE(column.key);
    CHECK(!column.meaning.empty());
    CHECK_NOTHROW(in_unit(1, column.unit));
  }
  CHECK(in_unit(3600, light_sum()) == doctest::Approx(1));
  CHECK(weather_columns().back().key == "air_temperature");
}

TEST_CASE("every key of the weather section says what it is") {
  for (const auto* fields : {&column_fields(), &time_fields(), &csv_fields()}) {
    for (const Field& field : *fields) CHECK_MESSAGE(!field.meaning.empty(), field.key);
  }
}
