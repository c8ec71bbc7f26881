#include "tools/benchmark/variants.hpp"

#include <fmt/format.h>
#include <yaml-cpp/yaml.h>

#include <filesystem>
#include <stdexcept>

namespace overwinter {

namespace {

YAML::Node loaded(const std::string& path) {
  YAML::Node scenario = YAML::LoadFile(path);
  const auto folder = std::filesystem::absolute(path).parent_path();
  scenario["weather"]["file"] = (folder / scenario["weather"]["file"].as<std::string>()).string();
  return scenario;
}

/// "0.3 s" times a factor.
std::string scaled(const YAML::Node& quantity, double factor) {
  const std::string text = quantity.as<std::string>();
  std::size_t end = 0;
  const double number = std::stod(text, &end);
  return fmt::format("{:.6g}{}", factor * number, text.substr(end));
}

YAML::Node pieces_of(const YAML::Node& phases, int pieces) {
  YAML::Node cut;
  double swing = 1.1;
  for (const YAML::Node& phase : phases) {
    for (int piece = 1; piece <= pieces; ++piece) {
      YAML::Node part = YAML::Clone(phase);
      part["name"] = fmt::format("{}-{}", phase["name"].as<std::string>(), piece);
      part["duration"] = scaled(phase["duration"], 1.0 / pieces);
      part["current"] = scaled(phase["current"], swing);
      swing = 2 - swing;
      cut.push_back(part);
    }
  }
  return cut;
}

std::string text_of(const YAML::Node& scenario) {
  YAML::Emitter text;
  text << scenario;
  return std::string(text.c_str()) + "\n";
}

}  // namespace

Phased with_phases_cut(const std::string& path, int pieces) {
  YAML::Node scenario = loaded(path);
  for (auto part : scenario["parts"]) {
    if (!part.second["phases"]) continue;
    const YAML::Node cut = pieces_of(part.second["phases"], pieces);
    part.second["phases"] = cut;
    return {text_of(scenario), cut.size()};
  }
  throw std::runtime_error(path + " has no controller with phases");
}

std::string shortened(const std::string& path, int days) {
  YAML::Node scenario = loaded(path);
  const Scenario read = read_scenario(path);
  scenario["span"]["to"] = iso(civil_date(days_since_epoch(read.from) + days - 1));
  return text_of(scenario);
}

}  // namespace overwinter
