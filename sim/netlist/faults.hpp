// Collects the faults of all input files, so that they are reported at once.
#pragma once

#include <algorithm>
#include <string>
#include <tuple>
#include <utility>
#include <vector>

#include "sim/input_error.hpp"

namespace overwinter {

class Faults {
 public:
  /// A fault that says the same about the same place as an earlier one is dropped.
  void add(Fault fault) {
    for (const Fault& known : all_) {
      if (order(known) == order(fault) && known.message == fault.message) return;
    }
    all_.push_back(std::move(fault));
  }
  bool empty() const { return all_.empty(); }
  std::size_t size() const { return all_.size(); }
  const std::vector<Fault>& all() const { return all_; }

  /// Throws InputError if there is any fault: those of `first_file` first, then the other files by name.
  void raise_if_any(const std::string& first_file) {
    if (all_.empty()) return;
    std::stable_sort(all_.begin(), all_.end(), [&](const Fault& a, const Fault& b) {
      return std::tuple(a.place.file != first_file, order(a)) < std::tuple(b.place.file != first_file, order(b));
    });
    throw InputError(all_);
  }

 private:
  static std::tuple<const std::string&, int, int> order(const Fault& f) {
    return {f.place.file, f.place.line, f.place.column};
  }
  std::vector<Fault> all_;
};

}  // namespace overwinter
