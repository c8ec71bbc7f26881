// Station files in the open EPW layout: eight header lines, then one comma-separated row per hour.
#pragma once

#include <string>
#include <string_view>

#include "sim/weather/weather.hpp"

namespace overwinter {

/// Whether a file's text begins as the EPW layout does.
bool is_epw(std::string_view text);

/// Reads and checks an EPW file of hourly rows. Uses dry-bulb temperature, global horizontal, direct normal and diffuse
/// horizontal radiation (columns 7, 14, 15, 16) and the station's place, standard time and height (LOCATION).
///
/// Rows of 29 February are dropped with a warning. Direct or diffuse radiation marked missing becomes not-a-number;
/// missing global radiation is closed from the other two with the sun's height at the station.
/// Throws InputError with up to 20 faults: unreadable or truncated file, missing header line, wrong number or order of
/// rows, no number, number out of range (-70...70 degC, 0...1500 Wh/m2), missing temperature, no radiation at all.
StationYear read_epw(const std::string& path);

/// The text of an EPW file for a station year; radiation in whole Wh/m2, temperature to 0.1 degC, every column that
/// a StationYear does not know is marked missing. All rows carry the (one) source year, which must not be a leap year.
/// Comments are one line each, without quotes.
std::string epw_text(const StationYear&, std::string_view source, std::string_view comment1, std::string_view comment2);

}  // namespace overwinter
