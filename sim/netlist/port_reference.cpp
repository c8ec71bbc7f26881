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

Reference ReferenceReader::read(const Node& node) const {
  const std::string upper = what_ == "pin" ? "PIN" : "PORT";
  Reference r;
  if (node.is_refused()) return r;
  if (!node.is_scalar()) {
    faults_.add(d_.fault(node, "a " + what_ + " is written PART." + upper + ", not " + described(node)));
    return r;
  }
  const std::size_t dot = node.text.find('.');
  r.part_name = node.text.substr(0, dot);
  if (dot == std::string::npos || dot == 0 || dot + 1 == node.text.size()) {
    const auto part = index_of(wirable_.parts, r.part_name);
    const ModelTable* table = part ? wirable_.parts[*part].table : nullptr;
    faults_.add(d_.fault(node, in_quotes(node.text) + " is not a " + what_ + ", which is written PART." + upper,
                         table && what_ == "pin" ? prefixed(r.part_name, names_of(table->pins)) : ""));
    r.meant = r.part_name;
    return r;
  }
  r.port = node.text.substr(dot + 1);
  r.part = index_of(wirable_.parts, r.part_name);
  if (r.part) return r;
  r.meant = nearest(r.part_name, names_of(wirable_.parts));
  if (wirable_.complete) {
    faults_.add(d_.fault(node, 0, dot, "there is no part " + in_quotes(r.part_name),
                         r.meant.empty() ? "" : r.meant + "." + r.port));
  }
  return r;
}

std::string prefixed(const std::string& part, const std::vector<std::string>& ports) {
  std::vector<std::string> all;
  for (const std::string& port : ports) all.push_back(part + "." + port);
  return listed(all);
}

}  // namespace overwinter
