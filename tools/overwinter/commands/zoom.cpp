// overwinter zoom
#include "sim/zoom/zoom.hpp"

#include <fmt/format.h>

#include <cmath>

#include "sim/netlist/files.hpp"
#include "sim/replay/changes_json.hpp"
#include "sim/replay/replay.hpp"
#include "sim/zoom/zoom_files.hpp"
#include "tools/overwinter/commands/commands.hpp"
#include "tools/overwinter/commands/option_values.hpp"
#include "tools/overwinter/terminal.hpp"
#include "tools/overwinter/zoom_text.hpp"

namespace overwinter {
namespace {

Tick window_length(const char* option, const std::string& text, const char* example) {
  constexpr double longest = 3600;
  const double seconds = option_value(option, text, unit_of<Duration>("ms"), 0, longest, example);
  return static_cast<Tick>(std::llround(seconds * ticks_per_second));
}

/// What the file of --from holds.
std::string saved_moment(const std::string& path) {
  std::string why;
  const std::optional<std::string> text = read_file(path, why);
  if (text) return *text;
  const std::string near = nearest_file(path);
  throw option_fault("--from " + in_quotes(path), "the file " + why,
                     near.empty() ? "moment.json in the folder of a zoom" : "--from " + in_shell(near));
}

class ZoomCommand : public Command {
 public:
  explicit ZoomCommand(CLI::App& program)
      : Command(program, "zoom", "Look at one moment of a run: every net and line, to the microsecond") {
    add_file();
    add_changes();
    value("--at", at_,
          "the moment: YYYY-MM-DD hh:mm:ss on the site's standard time, or with Z in UTC, as in events.csv", "TIME",
          "--at \"2024-12-28 18:25:43\"");
    value("--event", event_, "or its number: a row of events.csv, or B1 for the first brown-out", "N", "--event B1");
    value("--from", from_,
          "or moment.json of an earlier zoom: begins there without the replay, also with other values in FILE; the "
          "same --weather, --seeds and --years as then",
          "FILE", "--from out/peat-bog-zoom/moment.json");
    value("--before", before_, "length of the window before the moment (default: 1 ms)", "TIME", "--before \"1 ms\"");
    value("--after", after_,
          "length of the window after it (default: 4 ms after what is asked for, or as the file says)", "TIME",
          "--after \"4 ms\"");
    flag("--csv", forms_.csv, "write a table; without --csv, --vcd and --html all three are written");
    flag("--vcd", forms_.vcd, "write a value change dump, for any wave viewer");
    flag("--html", forms_.html, "write a page with the courses drawn");
    name_of_a("folder for the results", "--out", out_,
              "folder for the results (default: out/, the scenario file's name and -zoom)", "FOLDER");
    require(parser()
                .add_option("--weather", choice_.weather, "another weather file, as with run")
                ->type_name("FILE")
                ->expected(1),
            "the name of the weather file is empty", "--weather FILE");
    value("--seeds", choice_.seeds, "seed of synthetic weather, as with run", "NUMBER", "--seeds 7");
    value("--years", choice_.years, "year in which the span is to begin, as with run", "YEAR", "--years 2009");
    add_engine();
    add_json();
    parser().footer(
        "Examples:\n"
        "  overwinter zoom scenarios/peat-bog.yaml --event B1\n"
        "  overwinter zoom scenarios/peat-bog.yaml --at 2024-12-28T18:25:43Z --after \"20 ms\" --html\n"
        "  overwinter zoom scenarios/peat-bog.yaml --from out/peat-bog-zoom/moment.json \\\n"
        "      --set 'reservoir.capacitance=470 uF'                the same moment with another part\n\n"
        "Exit codes: 0 seen, 2 bad usage or input (nothing written), 3 the simulation could not be completed.");
  }

 private:
  int work() override {
    require_one_moment();
    static_cast<EngineOptions&>(options_) = engine();
    OneRun run = one_run(read_changed(file_, set_, faults_), choice_, "zoom");
    const Tick offset = static_cast<Tick>(std::llround(run.weather.site().utc_offset.si() * ticks_per_second));
    std::string saved;
    std::optional<Tick> after;
    ZoomRequest request;
    if (from_.empty()) {
      request = asked({run.weather.begin(), run.weather.end(), offset});
    } else {
      saved = saved_moment(from_);
      if (!after_.empty()) after = window_length("--after", after_, "\"4 ms\"");
    }
    const bool all_forms = !forms_.csv && !forms_.vcd && !forms_.html;

    const std::string out = out_.empty() ? default_folder(run.scenario, "-zoom") : out_;
    RunFolder folder(out);
    const Diagram diagram(run.scenario);
    Zoom seen;
    {
      const Interruptible user;
      ProgressLine line;
      options_.look = [&] { user.check(); };
      options_.progress = [&](Tick reached, double share) { line.show(reached, share); };
      seen = from_.empty() ? zoom(run.scenario, run.weather, diagram, options_, request)
                           : zoom_from(from_, saved, after, run.scenario, run.weather, diagram, options_);
    }
    std::vector<std::string> files = write_zoom(seen.waveforms, all_forms ? ZoomForms{} : forms_, folder);
    folder.write("moment.json", seen.moment);
    files.push_back("moment.json");
    folder.publish();
    const nlohmann::ordered_json changes = changes_json(run.scenario, run.weather);
    fmt::print("{}", json_ ? zoom_json(seen.waveforms, changes, from_, out, files).dump(2) + "\n"
                           : zoom_text(seen.waveforms, changes, from_, out, files));
    return 0;
  }

  void require_one_moment() const {
    const int moments = !at_.empty() + !event_.empty() + !from_.empty();
    if (moments != 1) {
      throw option_fault("overwinter zoom", moments == 0 ? "no moment is given" : "more than one moment is given",
                         "one of --at TIME, --event N and --from FILE");
    }
    if (!from_.empty() && !before_.empty()) {
      throw option_fault("--before " + in_quotes(before_), "what is before the moment stands in the file",
                         "--from FILE without --before");
    }
  }

  ZoomRequest asked(const MomentSpan& span) const {
    ZoomRequest request;
    TextFault why;
    if (!at_.empty()) {
      const auto moment = parse_moment(at_, span, why);
      if (!moment) throw text_fault("--at", at_, why);
      request.moment = *moment;
    } else {
      const auto event = parse_event_number(event_, why);
      if (!event) throw text_fault("--event", event_, why);
      request.moment = *event;
    }
    if (!before_.empty()) request.before = window_length("--before", before_, "\"1 ms\"");
    if (!after_.empty()) request.after = window_length("--after", after_, "\"4 ms\"");
    if (request.before == 0 && request.after == Tick{0}) {
      throw option_fault("--before " + in_quotes(before_), "the window has no length", "--before \"1 ms\"");
    }
    return request;
  }

  RunOptions options_;
  RunChoice choice_;
  ZoomForms forms_{false, false, false};
  std::string at_, event_, from_, before_, after_, out_;
};

}  // namespace

std::unique_ptr<Command> zoom_command(CLI::App& program) { return std::make_unique<ZoomCommand>(program); }

}  // namespace overwinter
