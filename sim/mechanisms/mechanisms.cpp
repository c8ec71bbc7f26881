#include "sim/mechanisms/mechanisms.hpp"

#include <stdexcept>

namespace overwinter {

const std::vector<Mechanism>& mechanisms() {
  static const std::vector<Mechanism> all = {
      {"constant-power-collapse",
       "a converter that holds its output asks for constant power; beyond E^2/(4 R) of the source E behind R no "
       "operating point is left, and its input collapses",
       "less resistance between cell and converter, a larger or warmer cell, or less power at once"},
      {"converter-limit",
       "a converter's current limit or largest duty gives less than its loads ask for, and the rail falls",
       "a converter with a higher limit, or less power at once"},
      {"lockout-hiccup",
       "a converter's lockout sheds the load, the input rises past the hysteresis by itself, and the start sets the "
       "lockout off again",
       "a lockout hysteresis above source resistance times load current"},
      {"path-drop",
       "what lies between the cell and a part drops so much under load that the part's threshold is crossed, though "
       "the "
       "cell itself would bear that load",
       "shorter or thicker leads, better joints, a switch, protector or shunt of less resistance, or less power at "
       "once"},
      {"pass-through",
       "a converter without disconnect passes the cell on while it does not run, and the rail stands where the "
       "controller neither runs nor is reset",
       "a converter that disconnects its output"},
      {"inrush", "a switch that closes onto empty capacitors shares the rail's charge with them, and the rail dips",
       "a slower gate, more capacitance before the switch or less behind it"},
      {"protector-trip", "the protector parts the cell from everything, by over-discharge or over-current",
       "a lockout or policy that stops the load before; a release by voltage where no charger may come"},
      {"charger-deadlock", "the charger's pre-charge is less than what hangs on it, so that an empty cell never fills",
       "a pre-charge current above the standing load, or that load behind a switch"},
      {"reset-loop", "the controller starts, browns out and starts again, each time before its wake is completed",
       "a supply that bears the start, or a start threshold that far above the brown-out threshold"},
      {"half-awake", "the controller is hung or held between reset and running, draws current and does nothing",
       "a brown-out detector, and a supply that rises at once or falls to nothing"},
      {"flag-not-cleared", "the clock's alarm flag is not cleared after a wake, and the switch stays on",
       "firmware that clears the flag, and a second way to cut the supply"},
      {"alarm-missed",
       "the alarm was set into the past or beyond what its match mask tells apart, and comes a whole period late",
       "an alarm that is checked against the time after it was written, and a mask no coarser than the silence "
       "allowed"},
      {"clock-backup-lost", "neither supply nor coin cell keeps the clock, and the alarm is forgotten",
       "a coin cell that outlasts the longest cut of the supply"},
      {"gate-undriven",
       "a switch's gate floats, is half driven, or is pulled to less than its source, so that it cannot be turned off "
       "or on",
       "a pull-up to the switch's source, strong against leakage and weak against the driver"},
      {"back-feed",
       "a net that is switched off is fed through signal lines, so that the controller never sees a power-on reset",
       "series resistors or buffers on the lines, or their pull-ups on the switched net"},
      {"divider-leak", "a divider leaks into the protection diode of a pin that is not powered",
       "a divider that is switched at its upper end, or high enough against the diode"},
      {"leakage-budget", "leakage and quiescent currents take most of what the cell gives",
       "parts with lower quiescent current or leakage, the largest of them first"},
      {"cold-charge-block", "the charger refuses light because the cell is too cold to be charged",
       "a warmer place for the cell, or a cell that bears being charged in the cold"},
      {"weak-light", "light is there, but the charger does not start on it or only trickles",
       "a panel of higher voltage or size, or a charger that starts on less"},
      {"panel-below-rating", "the panels yield far less than their nameplate promises for the light on their plane",
       "panels sized by field yield: dirt, snow, heat and the voltage that the charger holds them at included"},
      {"converter-always-on",
       "a converter that is never switched off takes more for itself between wakes than its starts would cost",
       "a switch in front of the converter in place of the one behind it"},
  };
  return all;
}

std::size_t rank_of_mechanism(const std::string& id) {
  for (std::size_t i = 0; i < mechanisms().size(); ++i) {
    if (mechanisms()[i].id == id) return i;
  }
  throw std::logic_error("no mechanism " + id);
}

}  // namespace overwinter
