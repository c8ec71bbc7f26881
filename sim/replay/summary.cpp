#include "sim/replay/summary.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <stdexcept>

#include "sim/replay/changes_json.hpp"
#include "sim/replay/service_json.hpp"
#include "sim/report/story_text.hpp"
#include "sim/sha256.hpp"
#include "sim/weather/review.hpp"

namespace overwinter {

namespace {

using Json = nlohmann::ordered_json;

constexpr double audit_limit = 1e-8, stepped_over_limit = 1e-2;  // of the throughput

Json number(double value) { return std::isfinite(value) ? Json(value) : Json(nullptr); }

}  // namespace

std::size_t cell_of(const Diagram& diagram) {
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    if (diagram.parts()[p].table->name == "cell") return p;
  }
  throw std::logic_error("a scenario without a cell passed the reader");
}

SummaryWriter::SummaryWriter(const Scenario& scenario, const Diagram& diagram, const Weather& weather,
                             ExtremesLog& extremes)
    : scenario_(scenario), diagram_(diagram), weather_(weather), cell_(cell_of(diagram)) {
  charge_ = &extremes.watch(cell_, "state_of_charge");
  voltage_ = &extremes.watch(cell_, "voltage");
  temperature_ = &extremes.watch(cell_, "temperature");
}

void SummaryWriter::begin(const Context&, Evaluator& system) {
  stored_at_start_ = system.stored_energy();
  charge_at_start_ = charge_->output->value(system.model(cell_), system.view(cell_));
}

double SummaryWriter::integral(const Context& c, std::size_t part, const std::string& flow) const {
  const DiagramPart& p = diagram_.parts()[part];
  for (std::size_t i = 0; i < p.table->flows.size(); ++i) {
    if (p.table->flows[i].name == flow) return c.state[diagram_.states() + p.flow + i];
  }
  throw std::logic_error("no flow " + flow);
}

nlohmann::ordered_json SummaryWriter::energy(const Context& c, double stored_change, double unbalanced) const {
  const double* flow = c.state.data() + diagram_.states();
  double offered = 0, source = 0, delivered = 0, lost = 0, stored = 0, throughput = 0;
  Json losses = Json::object(), delivered_by = Json::object(), refused = Json::object();
  for (const DiagramPart& part : diagram_.parts()) {
    for (std::size_t i = 0; i < part.table->flows.size(); ++i) {
      const Flow& f = part.table->flows[i];
      const double joules = flow[part.flow + i];
      switch (f.kind) {
        case FlowKind::offered:
          offered += joules;
          break;
        case FlowKind::source:
          source += joules;
          break;
        case FlowKind::stored:
          stored += joules;
          break;
        case FlowKind::throughput:
          throughput += joules;
          break;
        case FlowKind::counted:
          break;
        case FlowKind::delivered:
          delivered += joules;
          delivered_by[part.name] = number(joules);
          break;
        case FlowKind::lost:
          lost += joules;
          losses[part.name][f.name] = number(joules);
          break;
      }
    }
  }
  std::map<std::string, double> by_cause;
  for (std::size_t i = 0; i < diagram_.refused().size(); ++i)
    by_cause[diagram_.refused()[i].cause] += flow[diagram_.flows() + i];
  for (const auto& [cause, joules] : by_cause) refused[cause] = number(joules);
  const double balance = source - delivered - lost;
  return Json{{"harvest_offered_J", number(offered)},
              {"harvested_J", number(source)},
              {"refused_J", refused},
              {"delivered_J", number(delivered)},
              {"delivered_by_part_J", delivered_by},
              {"lost_J", number(lost)},
              {"losses_J", losses},
              {"stored_change_J", number(stored_change)},
              {"throughput_J", number(throughput)},
              {"residual_ledger", number((balance - stored) / throughput)},
              {"residual_independent", number((balance - stored_change - unbalanced) / throughput)}};
}

nlohmann::ordered_json SummaryWriter::finish(const Context& c, Simulator& simulator, const ServiceRecord* service,
                                             const std::vector<Story>& stories, const SunnyDays& sky,
                                             const RefusedLight& refused, const MarginLog& margins,
                                             const HiccupLog& hiccups, const MechanismLog& mechanisms,
                                             const DamageLog& damage, std::optional<Tick> cut_short) {
  Evaluator& system = simulator.at(c);
  const auto ah = [](double coulomb) { return number(coulomb / 3600); };
  const auto celsius_of = [](double kelvin) { return kelvin - zero_celsius.si(); };

  Json warnings = Json::array(), assumptions = Json::array(), inputs = Json::object(), years = Json::array();
  for (const std::string& w : weather_.warnings()) warnings.push_back(w);
  for (const int year : weather_.source().years) years.push_back(year);
  for (const DiagramPart& part : diagram_.parts()) {
    for (const std::string& a : part.model->assumptions()) assumptions.push_back(part.name + ": " + a);
  }
  for (const InputFile& file : scenario_.inputs) inputs[file.path] = sha256(file.text);
  inputs[weather_.source().path] = weather_.source().sha256;

  const std::vector<Damage> damages = damage.damages();
  const Tick simulated = cut_short.value_or(weather_.end()) - weather_.begin();
  Achieved achieved{service, simulated, charge_->extremes.low, margins.thinnest(), damages, {}};
  if (cut_short) achieved.cut_short = CutShort{*cut_short, weather_.end() - weather_.begin()};
  const Verdict verdict = judge(scenario_.requirements, achieved);
  std::vector<DesignFinding> findings = findings_beside(verdict, damages);
  for (DesignFinding& f : review(scenario_, weather_)) findings.push_back(std::move(f));

  Json balance = energy(c, system.stored_energy() - stored_at_start_, hiccups.unbalanced());
  const double residual = balance.at("residual_independent").get<double>();
  if (!(std::abs(residual) <= audit_limit)) {
    findings.push_back({"energy-balance-open",
                        {},
                        fmt::format("the energy balance closes only to {:.1e} of the throughput", residual),
                        "a smaller --tolerance"});
  }

  if (const std::size_t blind = simulator.steps().refused_looks) {
    findings.push_back({"closer-look-refused",
                        {},
                        fmt::format("{} of {} moments could not be looked into, and count as sound; the first: {}",
                                    blind, simulator.steps().closer_looks, simulator.refused_look()),
                        "a scope on the first board, there"});
  }
  for (const DesignFinding& f : mechanisms.findings()) findings.push_back(f);
  const double missing = hiccups.unbalanced() / balance.at("throughput_J").get<double>();
  if (std::abs(missing) > stepped_over_limit) {
    findings.push_back(
        {"leaps-unbalanced",
         {},
         fmt::format("the reset loops that were stepped over leave {:.1f} % of the throughput unbalanced",
                     100 * missing),
         "--every-start, which simulates each turn"});
  }

  const Site& site = weather_.site();
  Json s;
  s["format"] = 1;
  s["version"] = OVERWINTER_VERSION;
  s["scenario"] = scenario_.title;
  s["verdict"] = verdict_json(verdict, weather_.source().typical_year);
  s["requirements"] = requirements_json(verdict);
  s["span"] = {{"from", iso(scenario_.from)},
               {"to", iso(scenario_.to)},
               {"days", days_since_epoch(scenario_.to) - days_since_epoch(scenario_.from) + 1}};
  s["site"] = {{"latitude_deg", number(site.latitude / units::degree)},
               {"longitude_deg", number(site.longitude / units::degree)},
               {"elevation_m", number(site.elevation.si())},
               {"utc_offset_h", number(site.utc_offset / units::hour)},
               {"albedo", number(site.albedo)}};
  const Json changes = changes_json(scenario_, weather_);
  s["faults"] = changes.at("faults");
  s["weather"] = {{"source", weather_.source().place},
                  {"file", weather_.source().path},
                  {"years", years},
                  {"step_s", number(static_cast<double>(weather_.source().step) / ticks_per_second)},
                  {"annual_kWh_m2", weather_.source().annual_kwh ? number(*weather_.source().annual_kwh) : Json()},
                  {"warnings", warnings}};
  if (weather_.source().seed) s["weather"]["seed"] = *weather_.source().seed;
  if (service) {
    s["service"] = service_json(*service, simulated);
    s["brownouts"] = brownouts_json(*service, sky, refused, scenario_.sunny_days, scenario_.from, scenario_.to);
    for (std::size_t b = 0; b < service->brownouts.size(); ++b) {
      Json& episode = s["brownouts"]["events"][b];
      episode["story"] = story_json(stories[b], service->brownouts[b], episode, weather_.begin());
    }
  }
  s["damage"] = damage_json(damages);
  s["mechanisms"] = mechanisms_json(mechanisms);
  s["stepped_over"] = stepped_over_json(hiccups);
  s["margins"] = margins_json(margins);
  s["cell"] = {{"soc_start", number(charge_at_start_)},
               {"soc_end", number(charge_->output->value(system.model(cell_), system.view(cell_)))},
               {"soc_min", number(charge_->extremes.low)},
               {"soc_min_time", iso_time(charge_->extremes.low_at)},
               {"soc_max", number(charge_->extremes.high)},
               {"soc_max_time", iso_time(charge_->extremes.high_at)},
               {"voltage_min_V", number(voltage_->extremes.low)},
               {"voltage_min_time", iso_time(voltage_->extremes.low_at)},
               {"voltage_max_V", number(voltage_->extremes.high)},
               {"voltage_max_time", iso_time(voltage_->extremes.high_at)},
               {"temperature_min_degC", number(celsius_of(temperature_->extremes.low))},
               {"temperature_min_time", iso_time(temperature_->extremes.low_at)},
               {"temperature_max_degC", number(celsius_of(temperature_->extremes.high))},
               {"temperature_max_time", iso_time(temperature_->extremes.high_at)},
               {"charge_in_Ah", ah(integral(c, cell_, "charge_in"))},
               {"charge_out_Ah", ah(integral(c, cell_, "charge_out"))}};
  s["energy"] = balance;
  s["findings"] = findings;
  s["assumptions"] = assumptions;
  s["engine"] = {{"stepper", name_of(simulator.options().stepping)},
                 {"solver", name_of(simulator.options().elimination)},
                 {"steps", simulator.steps().accepted},
                 {"measured_steps", simulator.steps().measured},
                 {"branch_retries", simulator.steps().rejected},
                 {"events", simulator.steps().happenings},
                 {"solves", simulator.solves().solves},
                 {"leaps", simulator.steps().leaps},
                 {"worst_cases", simulator.steps().worst_cases},
                 {"zooms", simulator.steps().closer_looks},
                 {"iterations", simulator.solves().iterations},
                 {"chord_steps", simulator.solves().chords},
                 {"solver_fallbacks", simulator.solves().fallbacks},
                 {"pivot_fallbacks", simulator.solves().searched}};
  if (simulator.options().look_closer) {
    const Simulator* transients = simulator.transients();
    s["zooms"] = {{"thin", simulator.steps().thin},
                  {"looked_into", simulator.steps().closer_looks},
                  {"refused", simulator.steps().refused_looks},
                  {"failed", simulator.steps().failed_looks},
                  {"steps", transients ? transients->steps().accepted : 0},
                  {"solves", transients ? transients->solves().solves : 0}};
  }
  s["overrides"] = changes.at("overrides");
  s["inputs_sha256"] = inputs;
  return s;
}

}  // namespace overwinter
