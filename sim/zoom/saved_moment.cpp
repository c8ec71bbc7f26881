#include "sim/zoom/saved_moment.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "sim/engine/fault_plan.hpp"
#include "sim/engine/simulator.hpp"
#include "sim/input_error.hpp"
#include "sim/netlist/time_text.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

using Json = nlohmann::ordered_json;

constexpr int format = 1;

Json time_json(Tick t) { return t == never ? Json() : Json(iso_time(t, 9)); }

Json part_json(const DiagramPart& part, const Context& c) {
  Json states = Json::object(), memory = Json::array(), alarms = Json::object(), disarmed = Json::object();
  for (std::size_t i = 0; i < part.table->states.size(); ++i) {
    states[part.table->states[i].name] = c.state[part.state + i];
  }
  for (int i = 0; i < part.table->memories; ++i) memory.push_back(c.memory[part.memory + static_cast<std::size_t>(i)]);
  for (std::size_t e = 0; e < part.table->events.size(); ++e) {
    const Event& event = part.table->events[e];
    if (event.alarm >= 0) alarms[event.name] = time_json(c.alarm[part.alarm + static_cast<std::size_t>(event.alarm)]);
    if (event.guard && !c.armed[part.event + e]) disarmed[event.name] = time_json(c.marked[part.event + e]);
  }
  return {
      {"model", part.table->name}, {"states", states}, {"memory", memory}, {"alarms", alarms}, {"disarmed", disarmed}};
}

/// Takes the file apart; every fault is one of the whole file.
class Reader {
 public:
  explicit Reader(const std::string& path) : path_(path) {}

  [[noreturn]] void refuse(const std::string& message, const std::string& suggestion) const {
    Fault fault;
    fault.place.file = path_;
    fault.message = message;
    fault.suggestion = suggestion;
    throw InputError({fault});
  }
  [[noreturn]] void refuse_file(const std::string& why) const {
    refuse("this is no moment of a zoom: " + why, "moment.json out of the folder that a zoom has written");
  }
  [[noreturn]] void refuse_part(const std::string& message) const {
    refuse(message, "the scenario of that zoom, with other values but the same parts; or zoom anew with --at TIME");
  }

  Json parse(const std::string& text) const {
    Json json = Json::parse(text, nullptr, false);
    if (!json.is_object()) refuse_file("it is no object in JSON");
    const Json& version = member(json, "format", "it");
    if (version != format) refuse_file(fmt::format("its format is {}, not {}", version.dump(), format));
    return json;
  }
  const Json& member(const Json& object, const std::string& key, const std::string& owner) const {
    const auto found = object.find(key);
    if (found == object.end()) refuse_file(owner + " has no \"" + key + "\"");
    return *found;
  }
  const Json& section(const Json& object, const std::string& key, const std::string& owner) const {
    const Json& value = member(object, key, owner);
    if (!value.is_object()) refuse_file("\"" + key + "\" of " + owner + " is no mapping");
    return value;
  }
  double number(const Json& value, const std::string& what) const {
    if (!value.is_number() || !std::isfinite(value.get<double>())) refuse_file(what + " is no number");
    return value.get<double>();
  }
  Tick time(const Json& value, const std::string& what) const {
    const auto written = value.is_string() ? TimeForm().read(value.get<std::string>()) : std::nullopt;
    if (!written || !written->offset) refuse_file(what + " is no time in UTC");
    return written->local - *written->offset;
  }
  Tick time_or_never(const Json& value, const std::string& what) const {
    return value.is_null() ? never : time(value, what);
  }

 private:
  const std::string path_;
};

std::size_t interval_at(const Weather& weather, Tick t) {
  const auto& all = weather.intervals();
  const auto next =
      std::upper_bound(all.begin(), all.end(), t, [](Tick at, const WeatherInterval& i) { return at < i.begin; });
  return static_cast<std::size_t>(next - all.begin()) - 1;
}

/// The one that a run which has come to `t` is in: what begins at `t` itself comes next.
std::size_t period_before(const FaultPlan& plan, Tick t) {
  std::size_t period = 0;
  while (plan.periods()[period].end < t) ++period;
  return period;
}

void read_part(const Reader& in, const Json& parts, const DiagramPart& part, const Model& model, Context& c) {
  const auto found = parts.find(part.name);
  if (found == parts.end() || !found->is_object()) {
    in.refuse_part(part.table->name == "joint" ? "in the run of that moment no fault opened or shorted this part"
                                               : "part " + part.name + " is not in it");
  }
  const Json& saved = *found;
  const ModelTable& table = *part.table;
  const std::string of = " of part " + part.name;
  if (in.member(saved, "model", "part " + part.name) != table.name) {
    in.refuse_part(fmt::format("part {} is a {} now, and not in it as one", part.name, table.name));
  }
  const Json& states = in.section(saved, "states", "part " + part.name);
  for (std::size_t i = 0; i < table.states.size(); ++i) {
    const std::string& name = table.states[i].name;
    const auto state = states.find(name);
    if (state == states.end()) in.refuse_part("state " + name + of + " is not in it");
    c.state[part.state + i] = in.number(*state, "state " + name + of);
  }
  const Json& memory = in.member(saved, "memory", "part " + part.name);
  const auto integer = [](const Json& value) { return value.is_number_integer(); };
  if (!memory.is_array() || memory.size() != static_cast<std::size_t>(table.memories) ||
      !std::all_of(memory.begin(), memory.end(), integer)) {
    in.refuse_file(fmt::format("the memory{} is not of {}", of, how_many(std::to_string(table.memories), "integer")));
  }
  for (std::size_t i = 0; i < memory.size(); ++i) c.memory[part.memory + i] = memory[i].get<std::int32_t>();
  if (!model.can_be_in(c.memory.data() + part.memory)) {
    in.refuse_part("part " + part.name + " was in a phase or row that it does not have now");
  }
  const Json &alarms = in.section(saved, "alarms", "part " + part.name),
             &disarmed = in.section(saved, "disarmed", "part " + part.name);
  for (std::size_t e = 0; e < table.events.size(); ++e) {
    const Event& event = table.events[e];
    if (event.alarm >= 0) {
      const Json& alarm = in.member(alarms, event.name, "the alarms" + of);
      c.alarm[part.alarm + static_cast<std::size_t>(event.alarm)] =
          in.time_or_never(alarm, "alarm \"" + event.name + "\"" + of);
    }
    const auto fired = disarmed.find(event.name);
    if (fired == disarmed.end()) continue;
    c.armed[part.event + e] = 0;
    c.marked[part.event + e] = in.time(*fired, "event \"" + event.name + "\"" + of);
  }
}

}  // namespace

std::string saved_moment_text(const SavedMoment& saved, const Scenario& scenario, const Diagram& diagram) {
  const Context& c = saved.context;
  Json parts = Json::object(), network = Json::object();
  for (const DiagramPart& part : diagram.parts()) parts[part.name] = part_json(part, c);
  for (std::size_t i = 0; i < diagram.unknowns(); ++i) network[diagram.unknown_name(i)] = c.network[i];
  const Json json = {{"format", format},
                     {"scenario", scenario.title},
                     {"time", time_json(c.now)},
                     {"until", time_json(saved.until)},
                     {"moment", time_json(saved.moment)},
                     {"occasion", saved.occasion},
                     {"parts", parts},
                     {"network", network}};
  return json.dump(2) + "\n";
}

SavedMoment read_saved_moment(const std::string& path, const std::string& text, const Weather& weather,
                              const Diagram& diagram) {
  const Reader in(path);
  const Json json = in.parse(text);
  SavedMoment saved;
  Context& c = saved.context;
  const std::string whole = "it";
  c.now = in.time(in.member(json, "time", whole), "\"time\"");
  saved.until = in.time(in.member(json, "until", whole), "\"until\"");
  saved.moment = in.time(in.member(json, "moment", whole), "\"moment\"");
  const Json& occasion = in.member(json, "occasion", whole);
  if (!occasion.is_string()) in.refuse_file("\"occasion\" is no text");
  saved.occasion = occasion.get<std::string>();
  if (c.now < weather.begin() || c.now >= weather.end()) {
    in.refuse("its time, " + iso_time(c.now) + ", lies outside the scenario's span",
              "a span from " + iso_time(weather.begin()) + " to " + iso_time(weather.end()) + " has no such moment; " +
                  "give it the days, --weather, --seeds and --years of that zoom");
  }
  if (saved.moment < c.now || saved.until <= c.now) in.refuse_file("its window has no length");

  c.state.assign(diagram.states() + diagram.integrals(), 0.0);
  c.network.assign(diagram.unknowns(), 0.0);
  c.memory.assign(diagram.memories(), 0);
  c.drive.assign(diagram.drives(), 0.0);
  c.alarm.assign(diagram.alarms(), never);
  c.armed.assign(diagram.events(), 1);
  c.marked.assign(diagram.events(), c.now);
  c.interval = interval_at(weather, c.now);
  const Json& parts = in.section(json, "parts", whole);
  const FaultPlan plan(diagram, weather.begin(), weather.end());
  c.period = period_before(plan, c.now);
  const Ambient& ambient = weather.intervals()[c.interval].ambient;
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    const DiagramPart& part = diagram.parts()[p];
    const Model& model = *plan.periods()[c.period].models[p];
    read_part(in, parts, part, model, c);
    model.drive(ambient, c.drive.data() + part.drive);
  }
  const Json& network = in.section(json, "network", whole);
  for (std::size_t i = 0; i < diagram.unknowns(); ++i) {
    const std::string name = diagram.unknown_name(i);
    if (const auto value = network.find(name); value != network.end()) c.network[i] = in.number(*value, name);
  }
  return saved;
}

}  // namespace overwinter
