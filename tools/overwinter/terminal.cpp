#include "tools/overwinter/terminal.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <vector>

namespace overwinter {

namespace {

using Json = nlohmann::ordered_json;

constexpr int bar_width = 32;

struct Share {
  std::string name;
  double joules;
};

std::string energy_text(double joules) {
  const double size = std::abs(joules);
  if (size >= 999.5e3) return fmt::format("{:.2f} MJ", joules / 1e6);
  if (size >= 999.5) return fmt::format("{:.2f} kJ", joules / 1e3);
  if (size >= 0.9995) return fmt::format("{:.1f} J", joules);
  return fmt::format("{:.1f} mJ", joules * 1e3);
}

std::string bars(std::vector<Share> shares, double whole) {
  std::stable_sort(shares.begin(), shares.end(), [](const Share& a, const Share& b) { return a.joules > b.joules; });
  std::string text;
  for (const Share& s : shares) {
    const double part = whole > 0 ? s.joules / whole : 0;
    if (std::abs(part) < 5e-5) continue;
    const int length = std::clamp(static_cast<int>(std::lround(part * bar_width)), 0, bar_width);
    text += fmt::format("  {:<34} {:>10} {:>5.1f} %  {}\n", s.name, energy_text(s.joules), part * 100,
                        std::string(static_cast<std::size_t>(length), '#'));
  }
  return text;
}

double value(const Json& j, const char* key) { return j.at(key).is_null() ? std::nan("") : j.at(key).get<double>(); }

}  // namespace

std::string cautions() {
  return "Lithium cells can burn. Keep to the cell's datasheet for charge voltage, current and temperature; never "
         "charge below\n"
         "0 degC; fit a protection circuit and a fuse, and let the enclosure vent. A simulation certifies neither a "
         "cell nor\n"
         "a charger: follow local codes and ask a qualified person.\n";
}

std::string result_text(const nlohmann::ordered_json& s, const std::string& folder) {
  const Json &cell = s.at("cell"), &energy = s.at("energy"), &span = s.at("span"), &weather = s.at("weather");
  std::string text =
      fmt::format("{}\n{} to {} ({} days), weather: {}, {:.0f} kWh/m2 a year\n\n", s.at("scenario").get<std::string>(),
                  span.at("from").get<std::string>(), span.at("to").get<std::string>(), span.at("days").get<int>(),
                  weather.at("source").get<std::string>(), value(weather, "annual_kWh_m2"));
  text += fmt::format("Cell     charge {:.1f} % at the start, {:.1f} % at the end, lowest {:.1f} % on {}\n",
                      value(cell, "soc_start") * 100, value(cell, "soc_end") * 100, value(cell, "soc_min") * 100,
                      cell.at("soc_min_time").get<std::string>());
  text += fmt::format("         voltage {:.3f} V to {:.3f} V, lowest on {}\n", value(cell, "voltage_min_V"),
                      value(cell, "voltage_max_V"), cell.at("voltage_min_time").get<std::string>());
  text += fmt::format("         temperature {:.1f} degC to {:.1f} degC; {:.3f} Ah in, {:.3f} Ah out\n\n",
                      value(cell, "temperature_min_degC"), value(cell, "temperature_max_degC"),
                      value(cell, "charge_in_Ah"), value(cell, "charge_out_Ah"));

  const double offered = value(energy, "harvest_offered_J"), harvested = value(energy, "harvested_J");
  std::vector<Share> light = {{"harvested", harvested}};
  for (const auto& [cause, joules] : energy.at("refused_J").items())
    light.push_back({"not taken: " + cause, joules.get<double>()});
  text +=
      fmt::format("Light the panels could have turned into {} at their best operating points\n", energy_text(offered));
  text += bars(std::move(light), offered) + "\n";

  const double stored = value(energy, "stored_change_J");
  std::vector<Share> uses;
  for (const auto& [part, joules] : energy.at("delivered_by_part_J").items())
    uses.push_back({"used by " + part, joules.get<double>()});
  for (const auto& [part, causes] : energy.at("losses_J").items()) {
    for (const auto& [cause, joules] : causes.items())
      uses.push_back({"lost in " + part + ": " + cause, joules.get<double>()});
  }
  if (stored > 0) uses.push_back({"into the cell", stored});
  const double drawn = std::max(0.0, -stored), whole = harvested + drawn;
  text += fmt::format("Where every joule went: {} harvested{}\n", energy_text(harvested),
                      drawn > 0 ? ", " + energy_text(drawn) + " out of the cell" : std::string());
  text += bars(std::move(uses), whole);
  text += fmt::format("  balance: {:.1e} of the throughput by the ledger, {:.1e} against the stores in closed form\n\n",
                      value(energy, "residual_ledger"), value(energy, "residual_independent"));

  for (const Json& a : s.at("assumptions")) text += "Assumed  " + a.get<std::string>() + "\n";
  for (const Json& w : weather.at("warnings")) text += "Note     " + w.get<std::string>() + "\n";
  const Json& engine = s.at("engine");
  text += fmt::format("Engine   {} steps, {} network solves, {:.2f} s\n", engine.at("steps").get<std::size_t>(),
                      engine.at("solves").get<std::size_t>(), value(engine, "wall_s"));
  text += fmt::format("Written  {0}/summary.json, {0}/trace.csv, {0}/events.csv\n\n", folder);
  return text + cautions();
}

ProgressBar::ProgressBar(std::string label) : label_(std::move(label)), terminal_(isatty(STDERR_FILENO) == 1) {}

ProgressBar::~ProgressBar() {
  if (terminal_ && shown_ >= 0) fmt::print(stderr, "\r\x1b[K");
}

void ProgressBar::show(double share) {
  const int percent = static_cast<int>(share * 100);
  if (!terminal_ || percent == shown_) return;
  shown_ = percent;
  const auto filled = static_cast<std::size_t>(std::clamp(share, 0.0, 1.0) * bar_width);
  fmt::print(stderr, "\r{} [{}{}] {:3d} %", label_, std::string(filled, '='), std::string(bar_width - filled, ' '),
             percent);
  std::fflush(stderr);
}

}  // namespace overwinter
