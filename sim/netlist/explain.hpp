// What the program knows about its models and part classes, as text.
#pragma once

#include <string>

#include "models/table.hpp"
#include "sim/netlist/part_classes.hpp"

namespace overwinter {

/// The models, their part classes and the explained sections of a scenario, one line each.
std::string explain_all();

/// Purpose, pins, lines, parameters, equations, states, outputs, flows, events and part classes of a model.
std::string explain(const ModelTable&);

/// A part class: its model, its note and its parameters with the comments beside them.
std::string explain(const PartClass&);

/// The text about the model, built-in part class or section of a scenario (policy, require) with this name; about all
/// of them if it is empty. Throws InputError if there is none.
std::string explain(const std::string& name);

}  // namespace overwinter
