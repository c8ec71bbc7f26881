// Corner values: what a datasheet gives beside the typical value of a parameter. A part class may write them:
//
//   overdischarge_voltage: {nominal: 2.8 V, low: 2.75 V, high: 2.85 V}      # one of low and high may be left out
//   on_resistance:                                                           # of a curve each is a whole curve
//     nominal: {gate_drive: 2.5 4.5 V, resistance: 42 30 mohm}
//     high: {gate_drive: 2.5 4.5 V, resistance: 55 40 mohm}
//
// A part of the class takes the nominal value where it does not ask for another:
//
//   guard: {part: CLASS, corners: {overdischarge_voltage: high}}
#pragma once

#include <map>
#include <memory>
#include <string>
#include <vector>

#include "sim/netlist/binder.hpp"
#include "sim/netlist/part_classes.hpp"

namespace overwinter {

/// By key of the parameter: "nominal", "low" or "high".
using Corners = std::map<std::string, std::string>;

/// Adds a fault for each value of a class that is written with corners and cannot be read so, or whose corners do not
/// lie on either side of the nominal value. False if there was any.
bool check_corners(const ModelTable&, const WrittenValues&, Faults&);

/// Puts, for each value that is written with corners, the one that is wanted in its place; the nominal one where
/// nothing is.
void take_corners(const std::vector<Field>&, const Corners& wanted, WrittenValues&);

/// The values of a class with these corners. Its own faults were reported when it was read.
WrittenValues written_values(const PartClass&, const Corners& wanted = {});

/// The key `corners` of a part; `part_class` is null where it names none.
Corners read_corners(const Document&, const Node& part, const PartClass* part_class, Faults&);

/// "low 2.75 V, high 2.85 V" of a parameter of a class; empty without corners.
std::string corners_text(const PartClass&, const Field&);

}  // namespace overwinter
