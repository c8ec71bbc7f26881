// Made-up weather for a place of which only the climate is known.
//
//   (1)  Daily clearness index: Markov chain over ten states, Aguiar, Collares-Pereira & Conde 1988, with the class of
//        matrix chosen by the wanted mean; uniform inside the state.
//   (2)  Hourly clearness index kt = ktm + sigma y, Aguiar & Collares-Pereira 1992, Solar Energy 49:167 (the model
//        known as TAG), K the day's clearness index, h the sun's height:
//          ktm    = lambda + rho exp(-kappa / sin h)
//          lambda = -0.19 + 1.12 K + 0.24 exp(-8 K)
//          rho    = 0.32 - 1.6 (K - 0.5)^2
//          kappa  = 0.19 + 2.27 K^2 - 2.51 K^3
//          sigma  = A exp(B (1 - sin h)),  A = 0.14 exp(-20 (K - 0.35)^2),  B = 3 (K - 0.45)^2 + 16 K^5
//          y      = phi y' + sqrt(1 - phi^2) N(0, 1),  phi = 0.38 + 0.06 cos(7.4 K - 2.5)
//        drawn again unless 0 <= kt <= 0.88 cos(pi (t - 12.5 h)/30 h), t the solar time; then scaled to the day's K.
//   (3)  Beam and diffuse by Erbs, Klein & Duffie 1982 (models/light/split.hpp).
//
// Departures from the papers, ours:
//   (4)  The matrices know no bad weeks (lag-1 correlation about 0.3), so a two-state regime, dull or settled, with
//        geometrically distributed spells multiplies the wanted mean; the two factors average to 1 over time.
//   (5)  A class's chain has one mean of its own. The position x = 0...1 between the class's least and greatest value
//        is bent to x^p, with p such that the chain's stationary mean is the wanted one.
//   (6)  The matrix for 0.30...0.35 is all but memoryless (thin data); the one for 0.35...0.40 stands in for it.
//   (7)  Air temperature: the month's mean (drawn straight between mid-months), a first-order autoregressive anomaly of
//        the day that shares part of its innovation with the day's clearness, and a cosine over the day with its top at
//        15 h solar time whose range grows with the day's clearness.
//   (8)  The matrices come from lower latitudes, where a low sun is rare. No day's chain reaches above the clearness of
//        a cloudless mid-month day, and no drawn hour above a cloudless hour's (models/light/clear_sky.hpp).
#pragma once

#include <cstdint>
#include <vector>

#include "sim/weather/climate.hpp"
#include "sim/weather/weather.hpp"

namespace overwinter {

/// Clearness index of each day of a year, (1), (4), (5), (6), (8). The same for the same seed on every machine, as
/// far as its exp, log and cos agree. `calendar_year` places the sun and must not be a leap year.
std::vector<double> daily_clearness(const Climate&, std::uint64_t seed, int calendar_year);

/// Hours of all calendar years that the span touches, each drawn anew from the seed and the year; 29 February repeats
/// the 28th. A season that crosses New Year is cut there: a dull spell ends with the year.
MeasuredRecord synthetic_record(const Climate&, std::uint64_t seed, DaySpan);

/// A year of weather; `path` and `sha256` stay empty.
StationYear synthetic_year(const Climate&, std::uint64_t seed, int calendar_year);

}  // namespace overwinter
