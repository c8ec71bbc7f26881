// The rows of a trace.csv, by the names of its columns.
#pragma once

#include <map>
#include <sstream>
#include <string>
#include <vector>

namespace overwinter::test {

using TraceRow = std::map<std::string, std::string>;

/// No field of a trace holds a comma.
inline std::vector<TraceRow> trace_rows(const std::string& csv) {
  std::vector<TraceRow> rows;
  std::vector<std::string> names;
  std::istringstream text(csv);
  for (std::string line; std::getline(text, line);) {
    std::vector<std::string> fields;
    std::istringstream cells(line);
    for (std::string field; std::getline(cells, field, ',');) fields.push_back(field);
    if (names.empty()) {
      names = fields;
      continue;
    }
    rows.emplace_back();
    for (std::size_t i = 0; i < fields.size(); ++i) rows.back()[names[i]] = fields[i];
  }
  return rows;
}

inline double number(const TraceRow& row, const std::string& column) { return std::stod(row.at(column)); }

}  // namespace overwinter::test
