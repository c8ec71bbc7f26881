#include "models/table.hpp"

#include "models/bus.hpp"
#include "models/reading.hpp"

namespace overwinter {

std::string name_of(FieldKind kind) {
  switch (kind) {
    case FieldKind::scalar:
      return "scalar";
    case FieldKind::count:
      return "count";
    case FieldKind::choice:
      return "choice";
    case FieldKind::flag:
      return "flag";
    case FieldKind::text:
      return "text";
    case FieldKind::curve:
      return "curve";
    case FieldKind::map:
      return "map";
    case FieldKind::rows:
      return "rows";
  }
  return {};
}

std::string name_of(LineKind kind) {
  switch (kind) {
    case LineKind::temperature:
      return "temperature";
    case LineKind::logic:
      return "logic level";
    case LineKind::reading:
      return "reading";
    case LineKind::bus:
      return "bus";
  }
  return {};
}

std::size_t width(LineKind kind) {
  switch (kind) {
    case LineKind::reading:
      return Reading::width;
    case LineKind::bus:
      return Bus::width;
    default:
      return 1;
  }
}

std::string name_of(FlowKind kind) {
  switch (kind) {
    case FlowKind::source:
      return "source";
    case FlowKind::delivered:
      return "delivered";
    case FlowKind::lost:
      return "lost";
    case FlowKind::stored:
      return "stored";
    case FlowKind::offered:
      return "offered";
    case FlowKind::throughput:
      return "throughput";
    case FlowKind::counted:
      return "counted";
  }
  return {};
}

const Field* ModelTable::field(const std::string& key) const {
  for (const Field& f : fields) {
    if (f.key == key) return &f;
  }
  return nullptr;
}

}  // namespace overwinter
