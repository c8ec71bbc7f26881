// Numbers as results print them, on the terminal and in the report alike.
#pragma once

#include <string>

namespace overwinter {

/// With so many decimals. What rounds to nothing is a 0 without a sign.
std::string fixed_text(double value, int decimals);

/// "22.0 %" of the share 0.22.
std::string percent_text(double share, int decimals = 1);

/// "1.30 kJ", "14.2 J", "3.1 mJ": from MJ down to uJ, whichever leaves one to three digits before the point; "0 J"
/// below.
std::string energy_text(double joules);

/// A margin to a threshold: "37 mV".
std::string millivolts_text(double volts);

/// A residual of a balance: "4.8e-15", and 0 where there is none.
std::string residual_text(double share);

/// As duration_text(), in the unit in which duration_text() would print `like`, so that the two can be compared.
/// `digits`: significant ones.
std::string duration_text_like(double seconds, double like, int digits = 3);

}  // namespace overwinter
