#include "models/catalogue.hpp"

#include "models/converters/linear_charger.hpp"
#include "models/loads/load.hpp"
#include "models/paths/resistor.hpp"
#include "models/paths/schottky.hpp"
#include "models/sources/panel.hpp"
#include "models/storage/cell.hpp"

namespace overwinter {

const std::vector<const ModelTable*>& catalogue() {
  static const std::vector<const ModelTable*> all = {
      &Cell::describe(),  &LinearCharger::describe(), &Load::describe(),
      &Panel::describe(), &Resistor::describe(),      &Schottky::describe(),
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
