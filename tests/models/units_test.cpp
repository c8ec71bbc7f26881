#include "models/units.hpp"

#include <doctest/doctest.h>

#include <type_traits>
#include <utility>

#include "models/dual.hpp"

using namespace overwinter;

namespace {

template <class A, class B, class = void>
struct Adds : std::false_type {};
template <class A, class B>
struct Adds<A, B, std::void_t<decltype(std::declval<A>() + std::declval<B>())>> : std::true_type {};

template <class A, class B, class = void>
struct Compares : std::false_type {};
template <class A, class B>
struct Compares<A, B, std::void_t<decltype(std::declval<A>() < std::declval<B>())>> : std::true_type {};

}  // namespace

TEST_CASE("quantities: only like dimensions add, compare and convert") {
  CHECK(Adds<Voltage, Voltage>::value);
  CHECK_FALSE(Adds<Voltage, Current>::value);
  CHECK_FALSE(Adds<Voltage, double>::value);
  CHECK_FALSE(Compares<Temperature, Voltage>::value);
  CHECK_FALSE(std::is_convertible_v<double, Voltage>);
  CHECK_FALSE(std::is_convertible_v<Voltage, double>);
  CHECK_FALSE(std::is_convertible_v<Voltage, Current>);
  CHECK_FALSE(Adds<Angle, double>::value);
}

TEST_CASE("quantities: products and quotients have the right dimension") {
  CHECK(std::is_same_v<decltype(Voltage{} * Current{}), Power>);
  CHECK(std::is_same_v<decltype(Voltage{} / Current{}), Resistance>);
  CHECK(std::is_same_v<decltype(1.0 / Resistance{}), Conductance>);
  CHECK(std::is_same_v<decltype(Current{} * Duration{}), Charge>);
  CHECK(std::is_same_v<decltype(Charge{} * Voltage{}), Energy>);
  CHECK(std::is_same_v<decltype(Power{} * Duration{}), Energy>);
  CHECK(std::is_same_v<decltype(Charge{} / Voltage{}), Capacitance>);
  CHECK(std::is_same_v<decltype(Resistance{} * Capacitance{}), Duration>);
  CHECK(std::is_same_v<decltype(Energy{} / Temperature{}), HeatCapacity>);
  CHECK(std::is_same_v<decltype(Temperature{} / Power{}), ThermalResistance>);
  CHECK(std::is_same_v<decltype(Irradiance{} * Length{} * Length{}), Power>);
  CHECK(std::is_same_v<decltype(1.0 / Duration{}), Rate>);
  CHECK(std::is_same_v<decltype(1.0 / Temperature{}), PerKelvin>);
  CHECK(std::is_same_v<decltype(Voltage{} * PerKelvin{}), VoltagePerKelvin>);
  CHECK(std::is_same_v<decltype(Voltage{} / Voltage{}), double>);
  CHECK(std::is_same_v<decltype(boltzmann * Temperature{} / elementary_charge), Voltage>);
}

TEST_CASE("quantities: arithmetic is that of the SI values") {
  Voltage v{3.0};
  v += Voltage{0.5};
  v -= Voltage{2.0};
  CHECK(v.si() == 1.5);
  CHECK((-v).si() == -1.5);
  CHECK((v - Voltage{2.0}).si() == -0.5);
  CHECK((2 * v / Resistance{3.0}).si() == 1.0);
  CHECK((v / 2).si() == 0.75);
  CHECK(3.0 / Resistance{2.0} == Conductance{1.5});
  CHECK(v < Voltage{1.6});
  CHECK(Voltage{1.6} > v);
  CHECK(v <= Voltage{1.5});
  CHECK(v >= Voltage{1.5});
  CHECK_FALSE(v >= Voltage{1.6});
}

TEST_CASE("quantities: celsius and angles") {
  CHECK(celsius(25).si() == doctest::Approx(298.15).epsilon(1e-15));
  CHECK(celsius(-273.15).si() == 0.0);
  CHECK(sin(30 * units::degree) == doctest::Approx(0.5).epsilon(1e-15));
  CHECK(cos(60 * units::degree) == doctest::Approx(0.5).epsilon(1e-15));
  CHECK(tan(45 * units::degree) == doctest::Approx(1.0).epsilon(1e-15));
}

TEST_CASE("quantities carry derivatives") {
  using D = Dual<1>;
  const VoltageOf<D> v{D::variable(6.0, 0)};
  const CurrentOf<D> i = (v - Voltage{1.0}) / Resistance{2.0};
  CHECK(i.si().value == 2.5);
  CHECK(i.si().slope[0] == 0.5);
  const auto power = v * i;  // d/dv of v (v - 1) / 2
  CHECK(power.si().value == 15.0);
  CHECK(power.si().slope[0] == 5.5);
}
