// What an ensemble keeps of a member, and how members compare.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "sim/ensemble/members.hpp"

namespace overwinter {

struct MemberResult {
  const Member* member = nullptr;
  DaySpan span;
  std::string error;                     ///< why it could not be completed; empty: it was
  std::optional<std::string> cut_short;  ///< up to when it was simulated, where that is not its span's end
  std::optional<bool> survives;          ///< none: undecided
  std::optional<double> wakes_completed, longest_gap_s, brownouts, needs_human;  ///< none where nothing wakes
  double damage = 0;                                                             ///< times that a part was damaged
  double soc_min = 0, soc_end = 0;                                               ///< 0...1
  double voltage_min_V = 0;
  std::vector<std::string> failed, undecided;  ///< requirements by name
  bool typical_year = false;                   ///< its weather leaves bad winters out
  std::size_t findings = 0;                    ///< warnings about the run in its summary

  bool complete() const { return error.empty(); }
};

/// A member that was simulated, from its summary.
MemberResult result_of(const Member&, DaySpan, const nlohmann::ordered_json& summary);

/// Whether a stands before b where the worst comes first: not completed, failed, undecided, held; then by needs of a
/// human, damage, brown-outs, longest gap in whole minutes and lowest charge.
bool worse(const MemberResult& a, const MemberResult& b);

/// "not completed", "FAILED", "undecided" or "held"; "cut short" for what is undecided for that.
std::string verdict_word(const MemberResult&);

}  // namespace overwinter
