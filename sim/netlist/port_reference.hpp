// References of nets and lines to the pins and line ports of parts: PART.PIN, PART.PORT.
#pragma once

#include <cstddef>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "sim/netlist/document.hpp"
#include "sim/netlist/part_reader.hpp"

namespace overwinter {

/// The parts that nets and lines may name.
struct Wirable {
  const std::vector<ReadPart>& parts;  ///< in name order
  bool complete = true;                ///< false: a part that is not found may stand where a fault hides it
};

/// "PART.PORT" as far as it can be understood.
struct Reference {
  std::string part_name, port;
  std::optional<std::size_t> part;  ///< none: a fault was reported, or nothing can be said
  std::string meant;                ///< the part whose name is nearest to an unknown one
};

/// Pins about which nothing may be said, because a reported fault explains why they are not connected.
class Excuses {
 public:
  void all() { all_ = true; }
  /// After a reference that names no known port.
  void unresolved(const Reference&);
  void part(const std::string& name) { parts_.insert(name); }
  bool covers(const std::string& part, const std::string& pin) const {
    return all_ || parts_.count(part) || pins_.count(pin);
  }
  bool cover_all() const { return all_; }

 private:
  bool all_ = false;
  std::set<std::string> parts_, pins_;
};

/// Reads references; messages call them `what`, "pin" or "line port".
class ReferenceReader {
 public:
  ReferenceReader(const Document& d, const Wirable& wirable, std::string what, Faults& faults)
      : d_(d), wirable_(wirable), what_(std::move(what)), faults_(faults) {}

  Reference read(const Node&) const;

 private:
  const Document& d_;
  const Wirable& wirable_;
  const std::string what_;
  Faults& faults_;
};

/// The part of this name, or of this refused name; see ReadPart::name.
std::optional<std::size_t> part_named(const std::vector<ReadPart>&, const std::string& name);

/// Names of pins, ports or parts.
template <class Ports>
std::vector<std::string> names_of(const Ports& ports) {
  std::vector<std::string> names;
  for (const auto& port : ports) names.push_back(port.name);
  return names;
}

template <class Ports>
std::optional<std::size_t> index_of(const Ports& ports, const std::string& name) {
  for (std::size_t i = 0; i < ports.size(); ++i) {
    if (ports[i].name == name) return i;
  }
  return std::nullopt;
}

/// "part.a, part.b".
std::string prefixed(const std::string& part, const std::vector<std::string>& ports);

/// What a port that the part does not have may have been: "part.a", "one of part.a, part.b"; all of them where none is
/// near, empty where there are none.
std::string meant_port(const std::string& part, const std::string& port, const std::vector<std::string>& ports);

}  // namespace overwinter
