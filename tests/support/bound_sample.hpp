// Binds a YAML text to the sample fields.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "sim/netlist/binder.hpp"
#include "tests/support/sample_fields.hpp"

namespace overwinter::test {

struct BoundSample {
  explicit BoundSample(const std::string& text) {
    Faults found;
    document = Document::parse("a.yaml", text, found);
    if (document) {
      collect(sample_table().fields, {"model"}, "sample", *document, document->root(), written, found);
      good = bind_fields(sample_table().fields, written, &parameters, found);
    }
    for (const Fault& f : found.all()) {
      faults.push_back(std::to_string(f.place.line) + ":" + std::to_string(f.place.column) + " " + f.message +
                       (f.suggestion.empty() ? "" : " | " + f.suggestion));
    }
  }
  /// The only fault, or a note that there is not one.
  std::string fault() const { return faults.size() == 1 ? faults.front() : std::to_string(faults.size()) + " faults"; }

  std::shared_ptr<const Document> document;
  WrittenValues written;
  SampleParameters parameters;
  bool good = false;
  std::vector<std::string> faults;
};

}  // namespace overwinter::test
