// The causal chain of a brown-out in plain words: one place for the summary, the terminal and the report.
#pragma once

#include "sim/report/facts.hpp"
#include "sim/service/story.hpp"

namespace overwinter {

/// For one episode of the summary: what it says of sunny days is told too. `begin` of the span.
///   light            first day, days, share of the median and whether that is a dark spell; null where unknown
///   charge_before    of the cell at the beginning of those days, and charge_in_Ah and charge_out_Ah since then
///   moment           what stood when the first threshold was crossed; null where only the span's end showed it
///   energy_in_vain_J and charge_back
///   links            [{time, text}, ...]: the chain in words, in the order of time
Facts story_json(const Story&, const BrownOut&, const Facts& episode, Tick begin);

}  // namespace overwinter
