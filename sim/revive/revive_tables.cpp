#include "sim/revive/revive_tables.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <numeric>
#include <set>

#include "sim/csv_text.hpp"
#include "sim/netlist/review/review.hpp"
#include "sim/replay/changes_json.hpp"
#include "sim/revive/boxes.hpp"
#include "sim/sha256.hpp"

namespace overwinter {
namespace {

using Json = nlohmann::ordered_json;

double seconds(Tick from, Tick to) { return static_cast<double>(to - from) / ticks_per_second; }

Json state_json(const ReviveResult& r, const DeadState& state) {
  Json j = Json::object();
  for (std::size_t d = 0; d < state.size(); ++d) j[r.dimensions[d].name] = r.dimensions[d].values[state[d]];
  return j;
}

Tick begin_of(const ReviveResult& r, const ReviveRow& row) { return r.dawns[row.state.front()].weather.begin(); }

std::string outcome_of(const TrialResult& t) { return t.block.empty() ? name_of(t.fate) : t.block; }

/// Rows without what could not be completed, of which nothing is known. What was not tried is an outcome of its own, so
/// that no group is told to hold it.
std::vector<Box> boxes(const ReviveResult& r, std::vector<std::size_t>& row_of) {
  std::vector<TableRow> rows;
  for (std::size_t i = 0; i < r.rows.size(); ++i) {
    if (r.rows[i].result.fate == Fate::not_completed) continue;
    rows.push_back({r.rows[i].state, outcome_of(r.rows[i].result)});
    row_of.push_back(i);
  }
  std::vector<std::size_t> sizes, order(r.dimensions.size());
  for (const Dimension& d : r.dimensions) sizes.push_back(d.values.size());
  std::iota(order.rbegin(), order.rend(), std::size_t{0});  // charge and dawn last: they tell most
  return boxes_of(rows, sizes, order);
}

/// The dimensions that matter to a box, with the values they have in it.
Json where_json(const ReviveResult& r, const Box& box) {
  Json where = Json::object();
  for (std::size_t d = 0; d < r.dimensions.size(); ++d) {
    if (box.values[d].size() == r.dimensions[d].values.size()) continue;
    Json values = Json::array();
    for (const std::size_t v : box.values[d]) values.push_back(r.dimensions[d].values[v]);
    where[r.dimensions[d].name] = values;
  }
  return where;
}

Json counts_json(const ReviveResult& r) {
  Json j;
  j["combinations"] = r.combinations;
  j["dropped"] = r.combinations - r.rows.size();
  j["states"] = r.rows.size();
  j["back"] = r.count(Fate::back);
  j["traps"] = r.count(Fate::trap);
  j["replace_cell"] = r.count(Fate::replace_cell);
  j["undecided"] = r.count(Fate::undecided);
  j["not_completed"] = r.count(Fate::not_completed);
  j["not_tried"] = r.count(Fate::not_tried);
  return j;
}

/// For each charge and dawn.
Json overview_json(const ReviveResult& r) {
  Json all = Json::array();
  for (std::size_t charge = 0; charge < r.dimensions[1].values.size(); ++charge) {
    for (std::size_t dawn = 0; dawn < r.dawns.size(); ++dawn) {
      std::size_t states = 0, back = 0, traps = 0, replace = 0, undecided = 0, not_tried = 0;
      std::optional<double> first, last;
      for (const ReviveRow& row : r.rows) {
        if (row.state[0] != dawn || row.state[1] != charge) continue;
        ++states;
        back += row.result.fate == Fate::back;
        traps += row.result.fate == Fate::trap;
        replace += row.result.fate == Fate::replace_cell;
        undecided += row.result.fate == Fate::undecided;
        not_tried += row.result.fate == Fate::not_tried;
        if (row.result.fate != Fate::back) continue;
        const double after = seconds(begin_of(r, row), row.result.wakes.front());
        first = std::min(first.value_or(after), after);
        last = std::max(last.value_or(after), after);
      }
      if (states == 0) continue;
      all.push_back({{"charge", r.dimensions[1].values[charge]},
                     {"dawn", r.dawns[dawn].name},
                     {"states", states},
                     {"back", back},
                     {"traps", traps},
                     {"replace_cell", replace},
                     {"undecided", undecided},
                     {"not_tried", not_tried},
                     {"first_back_s", first ? Json(*first) : Json(nullptr)},
                     {"last_back_s", last ? Json(*last) : Json(nullptr)}});
    }
  }
  return all;
}

Json blocks_json(const Scenario& scenario, const ReviveResult& r) {
  std::set<std::string> found;
  for (const DesignFinding& f : review(scenario)) found.insert(f.rule);
  std::vector<std::size_t> row_of;
  const std::vector<Box> all = boxes(r, row_of);
  Json list = Json::array();
  for (const Block& block : blocks()) {
    Json groups = Json::array();
    std::size_t count = 0;
    for (const Box& box : all) {
      if (box.outcome != block.id) continue;
      const ReviveRow& example = r.rows[row_of[box.rows.front()]];
      groups.push_back({{"where", where_json(r, box)},
                        {"states", box.rows.size()},
                        {"example", state_json(r, example.state)},
                        {"text", example.result.text},
                        {"wakes_before", example.result.wakes.size()}});
      count += box.rows.size();
    }
    if (count == 0) continue;
    std::vector<std::string> says;
    for (const std::string& rule : block.review) {
      if (found.count(rule)) says.push_back(rule);
    }
    list.push_back({{"block", block.id},
                    {"verdict", name_of(block.fate)},
                    {"states", count},
                    {"meaning", block.meaning},
                    {"rule", block.rule},
                    {"review_rules", block.review},
                    {"review_says", says},
                    {"groups", groups}});
  }
  return list;
}

}  // namespace

Json trial_json(const TrialResult& t) {
  return {{"fate", static_cast<int>(t.fate)}, {"wakes", t.wakes}, {"attempts", t.attempts}, {"energy", t.energy},
          {"end", t.charge_at_end},           {"block", t.block}, {"text", t.text}};
}

TrialResult trial_of(const Json& j) {
  return {static_cast<Fate>(j.at("fate").get<int>()),
          j.at("wakes").get<std::vector<Tick>>(),
          j.at("attempts").get<double>(),
          j.at("energy").get<double>(),
          j.at("end").get<double>(),
          j.at("block").get<std::string>(),
          j.at("text").get<std::string>()};
}

Json revive_json(const Scenario& scenario, const Weather& weather, const ReviveResult& r, const Json& cut_short) {
  Json j;
  j["format"] = 1;
  j["version"] = OVERWINTER_VERSION;
  j["scenario"] = scenario.title;
  j["file"] = scenario.path;
  if (!cut_short.is_null()) j["cut_short"] = cut_short;
  j.update(changes_json(scenario, weather));
  j["date"] = iso(r.date);
  j["date_given"] = r.date_given;
  j["days"] = r.days;
  j["wakes"] = r.wakes;
  j["light"] = light_laws;
  j["dawns"] = Json::array();
  for (const DawnProfile& dawn : r.dawns) {
    j["dawns"].push_back({{"name", dawn.name},
                          {"text", dawn.text},
                          {"clearness_index", dawn.clearness},
                          {"kWh_m2", dawn.light / 3.6e6},
                          {"air_coldest_degC", dawn.coldest_degC},
                          {"air_warmest_degC", dawn.warmest_degC}});
  }
  j["dimensions"] = Json::array();
  for (const Dimension& d : r.dimensions) j["dimensions"].push_back({{"name", d.name}, {"values", d.values}});
  j["counts"] = counts_json(r);
  j["overview"] = overview_json(r);
  j["blocks"] = blocks_json(scenario, r);
  j["dropped"] = Json::array();
  for (const DroppedStates& d : r.dropped) j["dropped"].push_back({{"why", d.why}, {"count", d.count}});
  Json inputs = Json::object();
  for (const InputFile& file : scenario.inputs) inputs[file.path] = sha256(file.text);
  j["inputs_sha256"] = inputs;
  return j;
}

Json states_json(const ReviveResult& r) {
  Json all = Json::array();
  for (const ReviveRow& row : r.rows) {
    const TrialResult& t = row.result;
    Json wakes = Json::array();
    for (const Tick wake : t.wakes) wakes.push_back(iso_time(wake));
    all.push_back({{"state", state_json(r, row.state)},
                   {"verdict", name_of(t.fate)},
                   {"block", t.block.empty() ? Json(nullptr) : Json(t.block)},
                   {"text", t.text},
                   {"wakes", wakes},
                   {"first_wake_s", t.wakes.empty() ? Json(nullptr) : Json(seconds(begin_of(r, row), t.wakes.front()))},
                   {"attempts", t.attempts},
                   {"attempts_J", t.energy},
                   {"charge_at_end", t.charge_at_end}});
  }
  return all;
}

std::string revive_csv(const ReviveResult& r) {
  std::string csv;
  for (const Dimension& d : r.dimensions) csv += csv_field(d.name) + ",";
  csv += "verdict,block,wakes,first wake after [s],attempts,energy of attempts [J],charge at the end [%],text\n";
  for (const ReviveRow& row : r.rows) {
    const TrialResult& t = row.result;
    for (std::size_t d = 0; d < row.state.size(); ++d) csv += csv_field(r.dimensions[d].values[row.state[d]]) + ",";
    const std::string after = t.wakes.empty() ? "" : fmt::format("{}", seconds(begin_of(r, row), t.wakes.front()));
    csv += fmt::format("{},{},{},{},{},{},{},{}\n", name_of(t.fate), t.block, t.wakes.size(), after, t.attempts,
                       t.energy, 100 * t.charge_at_end, csv_field(t.text));
  }
  return csv;
}

}  // namespace overwinter
