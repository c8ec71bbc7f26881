// overwinter explain and overwinter schema: what scenario files can say.
#include "sim/netlist/explain.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "sim/netlist/schema.hpp"
#include "tools/overwinter/commands/commands.hpp"

namespace overwinter {
namespace {

class Explain : public Command {
 public:
  explicit Explain(CLI::App& program)
      : Command(program, "explain", "Tell a model's parameters, units, defaults, equations and sources") {
    require(parser().add_option("MODEL", topic_, "a model or part class; without it, the list of both"),
            "the name of the model or part class is empty", "`overwinter explain` without a name lists them");
  }

 private:
  int work() override {
    fmt::print("{}", explain(topic_));
    return 0;
  }

  std::string topic_;
};

class Schema : public Command {
 public:
  explicit Schema(CLI::App& program)
      : Command(program, "schema", "Print the JSON Schema of scenario files, for editors") {}

 private:
  int work() override {
    fmt::print("{}\n", scenario_schema().dump(2));
    return 0;
  }
};

}  // namespace

std::unique_ptr<Command> explain_command(CLI::App& program) { return std::make_unique<Explain>(program); }

std::unique_ptr<Command> schema_command(CLI::App& program) { return std::make_unique<Schema>(program); }

}  // namespace overwinter
