// Service, brown-outs, damage, margins and verdict as they stand in summary.json.
#pragma once

#include <nlohmann/json.hpp>

#include "sim/mechanisms/mechanism_log.hpp"
#include "sim/netlist/review/finding.hpp"
#include "sim/service/hiccup_log.hpp"
#include "sim/service/margins.hpp"
#include "sim/service/refused_light.hpp"
#include "sim/service/verdict.hpp"

namespace overwinter {

nlohmann::ordered_json service_json(const ServiceRecord&, Tick span);
nlohmann::ordered_json brownouts_json(const ServiceRecord&, const SunnyDays&, const RefusedLight&, int sunny_days,
                                      CivilDate from, CivilDate to);
nlohmann::ordered_json damage_json(const std::vector<Damage>&);
nlohmann::ordered_json mechanisms_json(const MechanismLog&);
nlohmann::ordered_json margins_json(const MarginLog&);
nlohmann::ordered_json stepped_over_json(const HiccupLog&);
/// What a designer must hear beside the verdict: every damage, and brown-outs that the scenario allows.
std::vector<DesignFinding> findings_beside(const Verdict&, const std::vector<Damage>&);
nlohmann::ordered_json requirements_json(const Verdict&);
/// `typical_year`: the weather was put together from the typical months of several years.
nlohmann::ordered_json verdict_json(const Verdict&, bool typical_year);

}  // namespace overwinter
