#include "models/table.hpp"

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
    case FieldKind::curve:
      return "curve";
    case FieldKind::map:
      return "map";
  }
  return {};
}

std::string name_of(LineKind kind) {
  switch (kind) {
    case LineKind::temperature:
      return "temperature";
  }
  return {};
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
