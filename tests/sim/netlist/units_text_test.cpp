#include "sim/netlist/units_text.hpp"

#include <doctest/doctest.h>

#include <cmath>
#include <regex>
#include <stdexcept>

#include "models/catalogue.hpp"

using namespace overwinter;

namespace {

const Unit ohm = unit_of<Resistance>("ohm"), siemens = unit_of<Conductance>("S"), second = unit_of<Duration>("s");
const Unit hertz = unit_of<Rate>("Hz"), degree = unit_of<Angle>("deg"), percent = unit_of<double>("%");
const Unit ratio = unit_of<double>("1"), milliampere_hour = unit_of<Charge>("mAh"), volt = unit_of<Voltage>("V");
const Unit celsius_scale = unit_of<Temperature>("degC"), per_kelvin = unit_of<PerKelvin>("%/K");
const Unit watt_hour = unit_of<Energy>("Wh"), milliampere = unit_of<Current>("mA");
const Unit difference{"K", unit_of<Temperature>("K").dimension, true};

double si(const std::string& text, const Unit& unit) {
  TextFault why;
  const auto value = parse_quantity("key", text, unit, why);
  if (!value) FAIL(why.message);
  return *value;
}

TextFault fault(const std::string& text, const Unit& unit) {
  TextFault why;
  CHECK_MESSAGE(!parse_quantity("key", text, unit, why), text);
  return why;
}

}  // namespace

// Factors: SI brochure, 9th ed. (2019), tables 4, 7 and 8. Exact up to the rounding of one operation.
TEST_CASE("quantities in SI") {
  CHECK(si("3 Ah", milliampere_hour) == 10800);
  CHECK(si("3000 mAh", milliampere_hour) == doctest::Approx(10800).epsilon(1e-15));
  CHECK(si("1.5 Wh", watt_hour) == 5400);
  CHECK(si("2 kWh", watt_hour) == 7.2e6);
  CHECK(si("3.7 V", volt) == 3.7);
  CHECK(si("100 mA", milliampere) == 0.1);
  CHECK(si("100 uA", milliampere) == 1e-4);
  CHECK(si("100 µA", milliampere) == 1e-4);
  CHECK(si("4.7 kΩ", ohm) == 4700);
  CHECK(si("80 %", percent) == 0.8);
  CHECK(si("35 %", percent) == 0.35);
  CHECK(si("65 deg", degree) == doctest::Approx(65 * pi / 180).epsilon(1e-15));
  CHECK(si("65°", degree) == si("65 deg", degree));
  CHECK(si("0.4 %/K", per_kelvin) == doctest::Approx(0.004).epsilon(1e-15));
  CHECK(si("0.00393 1/K", per_kelvin) == 0.00393);
  CHECK(si("1000 W/m2", unit_of<Irradiance>("W/m2")) == 1000);
  CHECK(si("-2 mV/K", unit_of<VoltagePerKelvin>("mV/K")) == -0.002);
  CHECK(si("20 kJ/mol", unit_of<Energy>("kJ/mol")) == 20000);
}

TEST_CASE("number and unit may touch, and numbers may be written in every decimal way") {
  CHECK(si("3.7V", volt) == 3.7);
  CHECK(si("  +3.7   V ", volt) == 3.7);
  CHECK(si(".5 V", volt) == 0.5);
  CHECK(si("5. V", volt) == 5);
  CHECK(si("1e-3 V", volt) == 1e-3);
  CHECK(si("1E3V", volt) == 1e3);
  CHECK(si("0.5 V", volt) == 0.5);
  CHECK(si("2 eV", unit_of<Energy>("eV")) == doctest::Approx(2 * elementary_charge.si()).epsilon(1e-6));
}

TEST_CASE("a temperature is a point on its scale, a difference is not") {
  CHECK(si("-10 degC", celsius_scale) == doctest::Approx(263.15).epsilon(1e-15));
  CHECK(si("-10 °C", celsius_scale) == si("-10 degC", celsius_scale));
  CHECK(si("300 K", celsius_scale) == 300);
  CHECK(si("14 degF", celsius_scale) == doctest::Approx(263.15).epsilon(1e-14));
  CHECK(si("5 K", difference) == 5);
  CHECK(si("5 degC", difference) == 5);
  CHECK(si("9 degF", difference) == doctest::Approx(5).epsilon(1e-14));
  CHECK(si("1 mV/degC", unit_of<VoltagePerKelvin>("mV/K")) == 0.001);
}

TEST_CASE("a bare ratio and a bare zero need no unit") {
  CHECK(si("0.8", percent) == 0.8);
  CHECK(si("20 %", ratio) == 0.2);
  CHECK(si("0", volt) == 0);
  CHECK(si("0.0", degree) == 0);
  CHECK(si("0", difference) == 0);
  CHECK(fault("0", celsius_scale).suggestion == "0 degC");
}

TEST_CASE("what UDUNITS would convert and must not pass") {
  CHECK(fault("3 ohm", siemens).message == "'ohm' measures a resistance; key is given in S");
  CHECK(fault("3 S", ohm).message == "'S' measures a conductance; key is given in ohm");
  CHECK(fault("3 s", hertz).message == "'s' measures a time; key is given in Hz");
  CHECK(fault("3 Hz", second).message == "'Hz' measures a rate; key is given in s");
  CHECK(fault("30 deg", percent).message == "'deg' measures an angle; key is given in %");
  CHECK(fault("30 deg", ratio).message == "'deg' measures an angle; key is given in 1");
  CHECK(fault("30 %", degree).message == "'%' measures a plain ratio; key is given in deg");
  CHECK(fault("0.5", degree).message == "no unit after 0.5; key is given in deg");
  CHECK(fault("20 kJ", unit_of<Energy>("kJ/mol")).message == "'kJ' measures an energy; key is given in kJ/mol");
}

TEST_CASE("what UDUNITS would read otherwise than it is meant") {
  CHECK(fault("3 ah", milliampere_hour).suggestion == "3 Ah");  // atto-hours
  CHECK(fault("3 mah", milliampere_hour).suggestion == "3 mAh");
  CHECK(fault("3 a", milliampere).suggestion == "3 A");         // ares
  CHECK(fault("25 C", celsius_scale).suggestion == "25 degC");  // coulombs
  CHECK(fault("77 F", celsius_scale).suggestion == "77 degF");  // farads
  CHECK(fault("3 V 2", volt).message == "the unit 'V 2' is not known; key is given in V");
  CHECK(fault("3 V @ 5", volt).message == "the unit 'V @ 5' is not known; key is given in V");
  CHECK(fault("3 K from 5", celsius_scale).message == "the unit 'K from 5' is not known; key is given in degC");
  CHECK(fault("3 dBm", unit_of<Power>("W")).message == "the unit 'dBm' is not known; key is given in W");
  CHECK(fault("3 seconds since 1970-01-01", second).message.find("is not known") != std::string::npos);
}

TEST_CASE("refused numbers") {
  for (const char* text : {"nan V", ".nan", "NaN V", "inf V", "-.inf V", ".INF", "+infinity V"}) {
    CHECK(fault(text, volt).message.find("key must be a finite number, not '") == 0);
  }
  CHECK(fault("012 V", volt).suggestion == "12 V");
  CHECK(fault("-00.5 V", volt).suggestion == "-0.5 V");
  CHECK(fault("1,5 V", volt).suggestion == "1.5 V");
  CHECK(fault("\xE2\x88\x92"
              "10 degC",
              celsius_scale)
            .suggestion == "-10 degC");
  CHECK(fault("1e999 V", volt).message == "'1e999' is beyond the range of floating-point numbers");
  CHECK(fault("V", volt).message == "key must begin with a number, not 'V'");
  CHECK(fault("", volt).message == "key must begin with a number, not ''");
  CHECK(fault("--3 V", volt).message == "key must begin with a number, not '--3'");
  CHECK(fault("0x10 V", volt).message == "the unit 'x10 V' is not known; key is given in V");
  CHECK(fault("3 /K", per_kelvin).message == "the unit '/K' is not known; key is given in %/K");
}

TEST_CASE("times of day and special blanks are refused with what is meant") {
  TextFault why;
  const auto meant = [&](const std::string& text, const Unit& unit) {
    CHECK_FALSE(parse_quantity("it", text, unit, why).has_value());
    return why.suggestion;
  };
  const Unit hours = unit_of<Duration>("h");
  CHECK(meant("+01:00", hours) == "1 h");
  CHECK(meant("5:30", hours) == "5.5 h");
  CHECK(meant("-3:30", hours) == "-3.5 h");
  CHECK(meant("-0:30", hours) == "-0.5 h");
  CHECK(meant("1:2:3", hours) != "1 h");
  CHECK(meant("3\xC2\xA0V", unit_of<Voltage>("V")) == "3 V");
  CHECK(meant("3 \xE2\x80\xAFmV", unit_of<Voltage>("V")) == "3 mV");
}

TEST_CASE("the fault knows its bytes") {
  const TextFault unit = fault("  3  ohm ", volt);
  CHECK(unit.offset == 5);
  CHECK(unit.length == 3);
  const TextFault number = fault(" 012 V", volt);
  CHECK(number.offset == 1);
  CHECK(number.length == 3);
}

TEST_CASE("counts") {
  TextFault why;
  CHECK(parse_count("cells", "12", why) == 12);
  CHECK(parse_count("cells", "-3", why) == -3);
  CHECK(parse_count("cells", "+3", why) == 3);
  CHECK_FALSE(parse_count("cells", "3 V", why));
  CHECK(why.message == "cells is a plain count, without a unit");
  CHECK(why.suggestion == "3");
  CHECK_FALSE(parse_count("cells", "3.0", why));
  CHECK(why.message == "cells must be a whole number, not '3.0'");
  CHECK_FALSE(parse_count("cells", "3e2", why));
  CHECK_FALSE(parse_count("cells", "99999999999", why));
  CHECK_FALSE(parse_count("cells", "012", why));
  CHECK(why.suggestion == "12");
  CHECK_FALSE(parse_count("cells", ".nan", why));
}

TEST_CASE("rows of numbers with one unit") {
  TextFault why;
  const auto row = parse_row("key", "0 5 10.5 100 %", percent, why);
  REQUIRE(row);
  CHECK(row->si == std::vector<double>{0, 0.05, 0.105, 1});
  CHECK(row->offset == std::vector<std::size_t>{0, 2, 4, 9});
  CHECK(row->length == std::vector<std::size_t>{1, 1, 4, 3});
  CHECK(parse_row("key", "-20 0 20 degC", celsius_scale, why)->si.front() == doctest::Approx(253.15).epsilon(1e-15));
  CHECK(parse_row("key", "1 2V", volt, why)->si == std::vector<double>{1, 2});
  CHECK(parse_row("key", "0.1 0.2 1/K", per_kelvin, why)->si == std::vector<double>{0.1, 0.2});
  CHECK(parse_row("key", "6 12 6", ratio, why)->si == std::vector<double>{6, 12, 6});
  CHECK(parse_row("key", "0 0", volt, why)->si == std::vector<double>{0, 0});
  CHECK(parse_row("key", "7 V", volt, why)->si == std::vector<double>{7});

  CHECK_FALSE(parse_row("key", "1 2 3", volt, why));
  CHECK(why.message == "no unit after 1 2 3; key is given in V");
  CHECK(why.suggestion == "1 2 3 V");
  CHECK_FALSE(parse_row("key", "1 x 3 V", volt, why));
  CHECK(why.message == "the unit 'x 3 V' is not known; key is given in V");
  CHECK_FALSE(parse_row("key", "1 02 3 V", volt, why));
  CHECK(why.offset == 2);
  CHECK_FALSE(parse_row("key", "1 V 2 V", volt, why));
  CHECK_FALSE(parse_row("key", "1 2 mA", volt, why));
  CHECK(why.offset == 4);
  CHECK_FALSE(parse_row("key", "V", volt, why));
  CHECK_FALSE(parse_row("key", "", volt, why));
}

TEST_CASE("back from SI") {
  CHECK(in_unit(10800, milliampere_hour) == doctest::Approx(3000).epsilon(1e-15));
  CHECK(in_unit(263.15, celsius_scale) == doctest::Approx(-10).epsilon(1e-13));
  CHECK(in_unit(5, difference) == 5);
  CHECK(in_unit(0.8, percent) == 80);
  CHECK(quantity_text(0.8, percent) == "80 %");
  CHECK(quantity_text(65 * pi / 180, degree) == "65 deg");
  CHECK(quantity_text(263.15, celsius_scale) == "-10 degC");
  CHECK(quantity_text(0.2, ratio) == "0.2");
  CHECK(quantity_text(-0.0, volt) == "0 V");
  CHECK(quantity_text(1e6, ohm) == "1000000 ohm");
  CHECK(quantity_text(1e-9, volt) == "1e-09 V");
  CHECK(number_text(0.8, percent) == "80");
}

TEST_CASE("a fitting unit where the field's own would make the number odd") {
  const Unit minute = unit_of<Duration>("min"), millisecond = unit_of<Duration>("ms");
  CHECK(fitting_text(1, minute) == "1 s");
  CHECK(fitting_text(3600, millisecond) == "1 h");
  CHECK(fitting_text(366 * 86400.0, minute) == "366 d");
  CHECK(fitting_text(86400, second) == "24 h");
  CHECK(fitting_text(1e-3, second) == "1 ms");
  CHECK(fitting_text(1e-6, millisecond) == "1 us");
  CHECK(fitting_text(90, second) == "90 s");
  CHECK(fitting_text(1e5, second) == "100000 s");  // nothing larger says it in three digits
  CHECK(fitting_text(0, minute) == "0 min");
  CHECK(fitting_text(20, milliampere) == "20 A");
  CHECK(fitting_text(1, milliampere) == "1000 mA");
  CHECK(fitting_text(-0.01, unit_of<Voltage>("uV")) == "-10 mV");
  CHECK(fitting_text(3.6e6, milliampere_hour) == "1 kAh");
  CHECK(fitting_text(1e5, ohm) == "100 kohm");
  CHECK(fitting_text(1e9, ratio) == "1000000000");
  CHECK(fitting_text(4.1234, volt) == "4.1234 V");
}

TEST_CASE("durations in three digits: hours below two days, then days") {
  CHECK(duration_text(0) == "0 s");
  CHECK(duration_text(0.25) == "0.25 s");
  CHECK(duration_text(59.96) == "60 s");
  CHECK(duration_text(1025) == "17.1 min");
  CHECK(duration_text(3600) == "1 h");
  CHECK(duration_text(36 * 3600) == "36 h");
  CHECK(duration_text(1485.14 * 3600) == "61.9 d");
  CHECK(duration_text(47.99 * 3600) == "48 h");
  CHECK(duration_text(48 * 3600) == "2 d");
  CHECK(duration_text(1234 * 86400.0) == "1234 d");
  CHECK(duration_text(-90) == "-1.5 min");
}

TEST_CASE("a table that misuses a unit is found out") {
  CHECK_THROWS_AS(in_unit(1, unit_of<Voltage>("mA")), std::logic_error);
  CHECK_THROWS_AS(in_unit(1, unit_of<Voltage>("vlot")), std::logic_error);
  CHECK_THROWS_AS(in_unit(1, unit_of<double>("deg")), std::logic_error);
}

TEST_CASE("the units of every model's table are known and fit their quantities") {
  for (const ModelTable* table : catalogue()) {
    CAPTURE(table->name);
    for (const Field& f : table->fields) {
      CAPTURE(f.key);
      if (f.kind == FieldKind::scalar) CHECK_NOTHROW(in_unit(1, f.unit));
      for (const Axis& axis : f.axes) CHECK_NOTHROW(in_unit(1, axis.unit));
    }
    for (const State& s : table->states) CHECK_NOTHROW(in_unit(1, s.unit));
    for (const Unknown& u : table->unknowns) CHECK_NOTHROW(in_unit(1, u.unit));
    for (const Output& o : table->outputs) CHECK_NOTHROW(in_unit(1, o.unit));
    for (const Flow& f : table->flows) CHECK_NOTHROW(in_unit(1, f.unit));
  }
}

TEST_CASE("the pattern for numbers accepts what the parser accepts") {
  const std::regex pattern(number_pattern);
  TextFault why;
  for (const char* text : {"0",  "10", "-3", "+3",  "0.5", ".5",  "5.", "1e3", "1E-3", "-0.0", "012",
                           "00", "",   ".",  "1,5", "nan", "--1", "1e", "0x1", "1_0",  "+",    "1.2.3"}) {
    CHECK_MESSAGE(std::regex_match(text, pattern) == parse_quantity("key", text, ratio, why).has_value(), text);
  }
}
