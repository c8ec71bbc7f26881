#include "models/catalogue.hpp"

#include "models/paths/resistor.hpp"

namespace overwinter {

const std::vector<const ModelTable*>& catalogue() {
  static const std::vector<const ModelTable*> all = {
      &Resistor::describe(),
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
