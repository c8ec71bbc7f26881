#include "models/catalogue.hpp"

#include "models/control/clock.hpp"
#include "models/control/controller.hpp"
#include "models/converters/boost.hpp"
#include "models/converters/linear_charger.hpp"
#include "models/loads/load.hpp"
#include "models/paths/open_drain_stage.hpp"
#include "models/paths/p_switch.hpp"
#include "models/paths/power_monitor.hpp"
#include "models/paths/protector.hpp"
#include "models/paths/resistor.hpp"
#include "models/paths/schottky.hpp"
#include "models/paths/signal_line.hpp"
#include "models/sources/panel.hpp"
#include "models/storage/capacitor.hpp"
#include "models/storage/cell.hpp"

namespace overwinter {

const std::vector<const ModelTable*>& catalogue() {
  static const std::vector<const ModelTable*> all = {
      &Boost::describe(),      &Capacitor::describe(),     &Cell::describe(),         &Clock::describe(),
      &Controller::describe(), &LinearCharger::describe(), &Load::describe(),         &OpenDrainStage::describe(),
      &PSwitch::describe(),    &Panel::describe(),         &PowerMonitor::describe(), &Protector::describe(),
      &Resistor::describe(),   &Schottky::describe(),      &SignalLine::describe(),
  };
  return all;
}

const ModelTable* find_model(const std::string& name) {
  for (const ModelTable* table : catalogue()) {
    if (table->name == name) return table;
  }
  return nullptr;
}

}  // namespace overwinter
