// Typed physical quantities.
//
// A Quantity is a number tagged at compile time with its dimension, always held in coherent SI units (the radian
// counts as a base unit, so an angle cannot be taken for a ratio). Adding volts to amperes does not compile.
// Rep is double, or a Dual where derivatives are wanted; dimensionless results collapse to the bare Rep.
#pragma once

#include <cmath>
#include <type_traits>

namespace overwinter {

/// Exponents of metre, kilogram, second, ampere, kelvin and radian.
template <int Metre, int Kilogram, int Second, int Ampere, int Kelvin, int Radian = 0>
struct Dim {
  static constexpr int exponents[6] = {Metre, Kilogram, Second, Ampere, Kelvin, Radian};
};

template <class A, class B>
struct DimProduct;
template <int... A, int... B>
struct DimProduct<Dim<A...>, Dim<B...>> {
  using type = Dim<(A + B)...>;
};
template <class A, class B>
struct DimQuotient;
template <int... A, int... B>
struct DimQuotient<Dim<A...>, Dim<B...>> {
  using type = Dim<(A - B)...>;
};

using Dimensionless = Dim<0, 0, 0, 0, 0, 0>;

template <class D, class Rep = double>
class Quantity {
 public:
  using Dimension = D;
  constexpr Quantity() = default;
  /// The value in the coherent SI unit of the dimension.
  constexpr explicit Quantity(const Rep& si) : si_(si) {}
  /// A plain quantity enters an expression with derivatives as a constant.
  template <class Other, class = std::enable_if_t<!std::is_same_v<Other, Rep> && std::is_convertible_v<Other, Rep>>>
  constexpr Quantity(const Quantity<D, Other>& other) : si_(other.si()) {}
  constexpr const Rep& si() const { return si_; }

  constexpr Quantity operator-() const { return Quantity(-si_); }
  constexpr Quantity& operator+=(const Quantity& b) { return *this = *this + b; }
  constexpr Quantity& operator-=(const Quantity& b) { return *this = *this - b; }

 private:
  Rep si_{};
};

namespace detail {
template <class D, class Rep>
constexpr auto tag(const Rep& si) {
  if constexpr (std::is_same_v<D, Dimensionless>) {
    return si;
  } else {
    return Quantity<D, Rep>(si);
  }
}
template <class T>
struct IsQuantity : std::false_type {};
template <class D, class R>
struct IsQuantity<Quantity<D, R>> : std::true_type {};
template <class T>
using IfNumber = std::enable_if_t<!IsQuantity<T>::value>;
}  // namespace detail

template <class D, class A, class B>
constexpr auto operator+(const Quantity<D, A>& a, const Quantity<D, B>& b) {
  return Quantity<D, decltype(a.si() + b.si())>(a.si() + b.si());
}
template <class D, class A, class B>
constexpr auto operator-(const Quantity<D, A>& a, const Quantity<D, B>& b) {
  return Quantity<D, decltype(a.si() - b.si())>(a.si() - b.si());
}
template <class D, class A, class E, class B>
constexpr auto operator*(const Quantity<D, A>& a, const Quantity<E, B>& b) {
  return detail::tag<typename DimProduct<D, E>::type>(a.si() * b.si());
}
template <class D, class A, class E, class B>
constexpr auto operator/(const Quantity<D, A>& a, const Quantity<E, B>& b) {
  return detail::tag<typename DimQuotient<D, E>::type>(a.si() / b.si());
}
template <class D, class A, class B, class = detail::IfNumber<B>>
constexpr auto operator*(const Quantity<D, A>& a, const B& b) {
  return Quantity<D, decltype(a.si() * b)>(a.si() * b);
}
template <class D, class A, class B, class = detail::IfNumber<B>>
constexpr auto operator*(const B& b, const Quantity<D, A>& a) {
  return a * b;
}
template <class D, class A, class B, class = detail::IfNumber<B>>
constexpr auto operator/(const Quantity<D, A>& a, const B& b) {
  return Quantity<D, decltype(a.si() / b)>(a.si() / b);
}
template <class D, class A, class B, class = detail::IfNumber<B>>
constexpr auto operator/(const B& b, const Quantity<D, A>& a) {
  return detail::tag<typename DimQuotient<Dimensionless, D>::type>(b / a.si());
}
template <class D, class A, class B>
constexpr bool operator<(const Quantity<D, A>& a, const Quantity<D, B>& b) {
  return a.si() < b.si();
}
template <class D, class A, class B>
constexpr bool operator>(const Quantity<D, A>& a, const Quantity<D, B>& b) {
  return b < a;
}
template <class D, class A, class B>
constexpr bool operator<=(const Quantity<D, A>& a, const Quantity<D, B>& b) {
  return !(b < a);
}
template <class D, class A, class B>
constexpr bool operator>=(const Quantity<D, A>& a, const Quantity<D, B>& b) {
  return !(a < b);
}
template <class D>
constexpr bool operator==(const Quantity<D>& a, const Quantity<D>& b) {
  return a.si() == b.si();
}

using VoltageDim = Dim<2, 1, -3, -1, 0>;
using CurrentDim = Dim<0, 0, 0, 1, 0>;

/// Quantities that carry derivatives where the solver asks for them.
template <class Rep>
using VoltageOf = Quantity<VoltageDim, Rep>;
template <class Rep>
using CurrentOf = Quantity<CurrentDim, Rep>;

using Voltage = VoltageOf<double>;
using Current = CurrentOf<double>;
using Duration = Quantity<Dim<0, 0, 1, 0, 0>>;
using Charge = Quantity<Dim<0, 0, 1, 1, 0>>;
using Power = Quantity<Dim<2, 1, -3, 0, 0>>;
using Energy = Quantity<Dim<2, 1, -2, 0, 0>>;
using Resistance = Quantity<Dim<2, 1, -3, -2, 0>>;
using Conductance = Quantity<Dim<-2, -1, 3, 2, 0>>;
using Capacitance = Quantity<Dim<-2, -1, 4, 2, 0>>;
using Temperature = Quantity<Dim<0, 0, 0, 0, 1>>;  ///< thermodynamic, or a difference where a field says so
using HeatCapacity = Quantity<Dim<2, 1, -2, 0, -1>>;
using ThermalResistance = Quantity<Dim<-2, -1, 3, 0, 1>>;
using Irradiance = Quantity<Dim<0, 1, -3, 0, 0>>;
using Length = Quantity<Dim<1, 0, 0, 0, 0>>;
using Angle = Quantity<Dim<0, 0, 0, 0, 0, 1>>;
using Rate = Quantity<Dim<0, 0, -1, 0, 0>>;
using PerKelvin = Quantity<Dim<0, 0, 0, 0, -1>>;
using PerKelvinSquared = Quantity<Dim<0, 0, 0, 0, -2>>;
using VoltagePerKelvin = Quantity<Dim<2, 1, -3, -1, -1>>;

inline double sin(Angle a) { return std::sin(a.si()); }
inline double cos(Angle a) { return std::cos(a.si()); }
inline double tan(Angle a) { return std::tan(a.si()); }

inline constexpr double pi = 3.14159265358979323846;
/// One of each unit, for writing quantities in code: 0.5 * units::volt.
namespace units {
inline constexpr Voltage volt{1.0};
inline constexpr Current ampere{1.0};
inline constexpr Duration second{1.0};
inline constexpr Duration hour{3600.0};
inline constexpr Power watt{1.0};
inline constexpr Resistance ohm{1.0};
inline constexpr Temperature kelvin{1.0};
inline constexpr Irradiance watt_per_square_metre{1.0};
inline constexpr Angle radian{1.0};
inline constexpr Angle degree{pi / 180.0};
inline constexpr Length metre{1.0};
}  // namespace units

/// 0 degC (SI brochure, 9th ed., 2.3.1).
inline constexpr Temperature zero_celsius{273.15};
constexpr Temperature celsius(double degrees) { return Temperature{degrees} + zero_celsius; }

/// Exact constants of the 2019 SI (CODATA 2018).
inline constexpr Quantity<Dim<2, 1, -2, 0, -1>> boltzmann{1.380649e-23};
inline constexpr Charge elementary_charge{1.602176634e-19};

}  // namespace overwinter
