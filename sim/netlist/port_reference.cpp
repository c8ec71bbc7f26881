#include "sim/netlist/port_reference.hpp"

#include "sim/text.hpp"

namespace overwinter {

void Excuses::unresolved(const Reference& r) {
  if (r.part) {
    parts_.insert(r.part_name);
  } else if (!r.meant.empty()) {
    parts_.insert(r.meant);
  } else if (!r.port.empty()) {
    pins_.insert(r.port);
  } else {
    all_ = true;
  }
}

std::optional<std::size_t> part_named(const std::vector<ReadPart>& parts, const std::string& name) {
  if (const auto found = index_of(parts, name)) return found;
  for (std::size_t i = 0; i < parts.size(); ++i) {
    if (parts[i].key->text == name) return i;
  }
  return std::nullopt;
}

Reference ReferenceReader::read(const Node& node) const {
  const std::string upper = what_ == "pin" ? "PIN" : "PORT";
  Reference r;
  if (node.is_refused()) return r;
  if (!node.is_scalar()) {
    faults_.add(
        d_.fault(node, "a " + what_ + " is written PART." + upper + ", not " + described(node), "PART." + upper));
    return r;
  }
  const std::size_t dot = node.text.find('.');
  r.part_name = node.text.substr(0, dot);
  if (dot == std::string::npos || dot == 0 || dot + 1 == node.text.size()) {
    const auto part = part_named(wirable_.parts, r.part_name);
    const ModelTable* table = part ? wirable_.parts[*part].table : nullptr;
    faults_.add(d_.fault(node, in_quotes(node.text) + " is not a " + what_ + ", which is written PART." + upper,
                         table && what_ == "pin" ? prefixed(r.part_name, names_of(table->pins)) : "PART." + upper));
    r.meant = r.part_name;
    return r;
  }
  r.port = node.text.substr(dot + 1);
  r.part = part_named(wirable_.parts, r.part_name);
  if (r.part) r.part_name = wirable_.parts[*r.part].name;
  if (r.part) return r;
  r.meant = nearest(r.part_name, names_of(wirable_.parts));
  if (wirable_.complete) {
    const std::vector<std::string> names = names_of(wirable_.parts);
    const std::string others = suggested(r.part_name, names);
    faults_.add(d_.fault(node, 0, dot, "there is no part " + in_quotes(r.part_name),
                         !r.meant.empty()  ? r.meant + "." + r.port
                         : !others.empty() ? others
                                           : "one of " + listed(names)));
  }
  return r;
}

std::string prefixed(const std::string& part, const std::vector<std::string>& ports) {
  std::vector<std::string> all;
  for (const std::string& port : ports) all.push_back(part + "." + port);
  return listed(all);
}

std::string meant_port(const std::string& part, const std::string& port, const std::vector<std::string>& ports) {
  const std::vector<std::string> near = all_meant(port, ports);
  if (near.empty()) return prefixed(part, ports);
  return (near.size() > 1 ? "one of " : "") + prefixed(part, near);
}

}  // namespace overwinter
