#include "sim/netlist/policy_reader.hpp"

#include "sim/netlist/binder.hpp"

namespace overwinter {

ReadPolicy read_policy(const Document& d, const Node::Entry& section, Faults& faults) {
  ReadPolicy result;
  result.written = true;
  const std::size_t before = faults.size();
  WrittenValues written;
  collect(Policy::fields(), {}, "policy", d, section.value, written, faults);
  PolicyParameters parameters;
  bind_fields(Policy::fields(), written, &parameters, faults);
  if (faults.size() != before || section.value.incomplete) return result;
  std::vector<Finding> findings;
  result.policy = Policy::build(parameters, findings);
  for (const Finding& finding : findings) {
    const auto found = written.find(finding.field);
    const bool has_place = found != written.end() && !found->second.entry->value.is_null();
    faults.add(d.fault(has_place ? place_of(finding, *found->second.entry) : section.key, finding.message,
                       finding.suggestion));
  }
  return result;
}

}  // namespace overwinter
