#include "tools/overwinter/terminal.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <vector>

#include "sim/engine/simulator.hpp"
#include "sim/netlist/units_text.hpp"
#include "sim/number_text.hpp"
#include "sim/report/texts.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

using Json = nlohmann::ordered_json;

constexpr int bar_width = 32;
constexpr double smallest_share = 5e-5;  // of the whole, that has a line of its own
constexpr int signals[] = {SIGINT, SIGTERM, SIGHUP};

struct Share {
  std::string name;
  double joules;
};

std::string bars(std::vector<Share> shares, double whole) {
  std::stable_sort(shares.begin(), shares.end(), [](const Share& a, const Share& b) { return a.joules > b.joules; });
  std::string text;
  const auto line = [&](const std::string& name, double joules) {
    const double part = whole > 0 ? joules / whole : 0;
    const int length = std::clamp(static_cast<int>(std::lround(part * bar_width)), 0, bar_width);
    text += fmt::format("  {:<34} {:>10} {:>7}{}{}\n", name, energy_text(joules), percent_text(part),
                        length > 0 ? "  " : "", std::string(static_cast<std::size_t>(length), '#'));
  };
  std::vector<Share> small;
  double together = 0;
  for (const Share& s : shares) {
    if (s.joules == 0) continue;
    if (std::abs(s.joules) >= smallest_share * whole) {
      line(s.name, s.joules);
    } else {
      small.push_back(s);
      together += s.joules;
    }
  }
  if (small.size() == 1) line(small.front().name, together);
  if (small.size() > 1) line(fmt::format("{} smaller ones together", small.size()), together);
  return text;
}

double value(const Json& j, const char* key) { return j.at(key).is_null() ? std::nan("") : j.at(key).get<double>(); }

}  // namespace

std::string plain(std::string text) {
  for (char& c : text) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = ' ';
  }
  return text;
}

std::string note(const std::string& label, const std::string& text) {
  std::string lines = fmt::format("{:<9}", label);
  std::size_t column = 9;
  for (std::size_t at = 0; at < text.size();) {
    const std::size_t end = std::min(text.find(' ', at), text.size());
    if (column + (end - at) > 100 && column > 9) {
      while (lines.back() == ' ') lines.pop_back();
      lines += "\n" + std::string(9, ' ');
      column = 9;
    }
    lines += text.substr(at, end - at) + " ";
    column += end - at + 1;
    at = end + 1;
  }
  while (lines.back() == ' ') lines.pop_back();
  return lines + "\n";
}

std::string cut_short_text(const nlohmann::ordered_json& result) {
  if (!result.contains("cut_short")) return {};
  const Json& cut = result.at("cut_short");
  std::string text = "short by " + cut_short_by(cut);
  if (cut.contains("reached")) {
    text += fmt::format(", at {}, {} of the span: what follows tells of the time before that",
                        cut.at("reached").get<std::string>(), percent_text(cut.at("share").get<double>()));
  }
  return note("Cut", text);
}

std::string cautions() {
  return "Lithium cells can burn. Keep to the cell's datasheet for charge voltage, current and temperature; never "
         "charge below\n"
         "0 degC; fit a protection circuit and a fuse, and let the enclosure vent. A simulation certifies neither a "
         "cell nor\n"
         "a charger: follow local codes and ask a qualified person.\n";
}

namespace {

std::string count_text(const Json& n) { return n.is_null() ? "-" : fmt::format("{}", n.get<std::size_t>()); }

std::string verdict_text(const Json& s) {
  const Json& verdict = s.at("verdict");
  std::string text = note("Verdict", verdict.at("text").get<std::string>());
  if (verdict.at("typical_year").get<bool>()) text += note("", "(typical year: bad winters are not in it)");
  for (const Json& r : s.at("requirements")) {
    const Json& reached = r.at("value_text");
    const Json& held = r.at("held");
    text += fmt::format("  {:<10} {:<18} {:>8} {:<8} reached {}{}\n",
                        held.is_null()     ? "undecided"
                        : held.get<bool>() ? "held"
                                           : "FAILED",
                        worded(r.at("name").get<std::string>()), r.at("relation").get<std::string>(),
                        r.at("limit_text").get<std::string>(), reached.is_null() ? "-" : reached.get<std::string>(),
                        r.at("by_default").get<bool>() ? std::string("  (") + by_default + ")" : "");
  }
  text += "\n";
  const std::vector<std::string> findings = findings_of(s), weather = texts_of(s.at("weather").at("warnings"));
  for (const std::string& f : findings) text += note("Warning", f);
  for (const std::string& w : weather) text += note("Note", w);
  return text + (findings.empty() && weather.empty() ? "" : "\n");
}

constexpr std::size_t shown_brownouts = 6;

std::string loops_text(const Json& stepped_over) {
  const Json& restarts = stepped_over.at("restarts_in_vain");
  if (restarts.empty()) return {};
  std::vector<std::string> counts;
  for (const Json& r : restarts) {
    counts.push_back(fmt::format("{} {} {} times", r.at("part").get<std::string>(), r.at("event").get<std::string>(),
                                 r.at("times").dump()));
  }
  return note("Loops",
              fmt::format("{} of reset loops were stepped over; {} went into them, unbalanced by {}. Restarts in vain "
                          "meanwhile, about: {}.",
                          duration_text(value(stepped_over, "time_s")), energy_text(value(stepped_over, "energy_J")),
                          energy_text(std::abs(value(stepped_over, "unbalanced_J"))), fmt::join(counts, ", "))) +
         note("", restart_in_vain);
}

/// Whether restarts were counted at their mean rates.
bool stepped_over(const Json& s) { return s.contains("stepped_over") && value(s.at("stepped_over"), "time_s") > 0; }

std::string service_text(const Json& s) {
  if (!s.contains("service")) return {};
  const Json &service = s.at("service"), &brownouts = s.at("brownouts");
  std::string text = fmt::format(
      "Service  {} came due: {}, {} completed, {} missed; {}\n", how_many(count_text(service.at("due")), "alarm"),
      how_many(count_text(service.at("wakes")), "wake"), count_text(service.at("wakes_completed")),
      count_text(service.at("wakes_missed")),
      (stepped_over(s) ? "about " : "") + how_many(count_text(service.at("failed_starts")), "failed start"));
  text +=
      fmt::format("         worst day {}; worst week {}", how_many(count_text(service.at("worst_day_wakes")), "wake"),
                  count_text(service.at("worst_week_wakes")));
  if (!service.at("worst_week_from").is_null())
    text += fmt::format(" from {}", service.at("worst_week_from").get<std::string>());
  text +=
      fmt::format("\n         longest gap {} from {}{}; downtime {}\n", duration_text(value(service, "longest_gap_s")),
                  service.at("longest_gap").at("from").get<std::string>(),
                  service.at("longest_gap").at("open").get<bool>() ? ", open at the end" : "",
                  percent_text(value(service, "downtime_fraction"), 2));
  const std::size_t count = brownouts.at("count").get<std::size_t>();
  text += fmt::format("Brown-outs  {}", count);
  if (count > 0) {
    text += fmt::format(": {} recovered without help, {} in need of a human, {} undecided",
                        brownouts.at("recovered").dump(), brownouts.at("needs_human").dump(),
                        brownouts.at("undecided").dump());
  }
  text += "\n";
  for (const auto& [cause, n] : brownouts.at("by_cause").items())
    text += fmt::format("  {:>5} x {}\n", n.dump(), cause);
  std::size_t shown = 0;
  for (const Json& b : brownouts.at("events")) {
    if (++shown > shown_brownouts) break;
    const std::string outcome = b.at("outcome").get<std::string>();
    std::string what = outcome;
    if (!b.at("needs_human_since").is_null()) what += " since " + b.at("needs_human_since").get<std::string>();
    if (!b.at("recovery_s").is_null())
      what += (b.at("needs_human_since").is_null() ? " after " : ", came back after ") +
              duration_text(b.at("recovery_s").get<double>());
    const auto second = [&](const char* key) { return b.at(key).get<std::string>().substr(0, 19) + "Z"; };
    const std::string since = second("cause_time") == second("time") ? "" : " at " + second("cause_time");
    text += fmt::format(
        "         {}  {}{} ({}): {}{}\n", second("time"), b.at("cause").get<std::string>(), since,
        b.at("cause_id").get<std::string>(), what,
        b.at("attempts").get<std::size_t>() > 0 ? ", " + how_many(b.at("attempts").dump(), "further attempt") : "");
    if (const std::string sunny = sunny_days_of(b); !sunny.empty() && outcome != "recovered")
      text += note("", "  " + sunny);
  }
  if (count > shown_brownouts) text += fmt::format("         and {} more, see summary.json\n", count - shown_brownouts);
  if (count > 0) text += "         `overwinter why` tells why, and what would have avoided it\n";
  text += loops_text(s.at("stepped_over"));
  if (const std::string zooms = zooms_of(s); !zooms.empty()) text += note("Zoom", zooms);
  const Json& thinnest = s.at("margins").at("thinnest");
  if (!thinnest.is_null()) {
    const double volts = value(thinnest, "margin_V");
    const std::string size =
        thinnest.at("crossed").get<bool>() ? std::string("threshold crossed") : "thinnest " + millivolts_text(volts);
    text += fmt::format("Margin   {}: {} {}, {}{}\n", size, thinnest.at("part").get<std::string>(),
                        thinnest.at("threshold").get<std::string>(), thinnest.at("time").get<std::string>(),
                        thinnest.at("worst_case").get<bool>() ? ", in the worst case of a switch-on" : "");
  }
  return text + "\n";
}

std::string damage_text(const Json& s) {
  const Json& damage = s.at("damage");
  std::string text = fmt::format("Damage   {}\n", damage.at("count").dump());
  for (const Json& d : damage.at("all")) {
    text += note("", fmt::format("{}: {}, the first on {}, {} in all", d.at("kind").get<std::string>(),
                                 d.at("text").get<std::string>(), d.at("first").get<std::string>().substr(0, 19) + "Z",
                                 duration_text(value(d, "beyond_s"))));
  }
  return text + "\n";
}

/// What was at work, one mechanism and part a paragraph.
std::string mechanisms_text(const Json& s) {
  const std::vector<std::string> lines = mechanisms_of(s);
  if (lines.empty()) return {};
  std::string text = "Mechanisms at work\n";
  for (const std::string& line : lines) text += note("", line);
  return text + "\n";
}

}  // namespace

std::string overrides_text(const nlohmann::ordered_json& summary) {
  std::string text;
  for (const std::string& o : overrides_of(summary)) text += note("Set", plain(o));
  return text;
}

std::string changes_text(const nlohmann::ordered_json& summary) {
  std::string text = overrides_text(summary);
  for (const std::string& f : faults_in(summary)) text += note("Fault", f);
  return text;
}

std::string weather_text(const nlohmann::ordered_json& w) {
  const auto day = [&](const char* key) {
    return fmt::format("{} on {}", fixed_text(value(w.at(key), "kWh_m2"), 2), w.at(key).at("date").get<std::string>());
  };
  return note(
      "Weather",
      fmt::format("{}: {} rows, one every {}; in the span {} kWh/m2 a day on the horizontal, from {} to {}; air "
                  "{} degC to {} degC",
                  plain(w.at("source").get<std::string>()), w.at("rows").get<std::size_t>(),
                  duration_text(value(w, "step_s")), fixed_text(value(w, "kWh_m2_a_day"), 2), day("dullest_day"),
                  day("brightest_day"), fixed_text(value(w, "coldest_degC"), 1),
                  fixed_text(value(w, "warmest_degC"), 1)));
}

std::string result_text(const nlohmann::ordered_json& s, const std::string& folder) {
  const Json &cell = s.at("cell"), &energy = s.at("energy"), &span = s.at("span"), &weather = s.at("weather");
  const double annual = value(weather, "annual_kWh_m2");
  std::string text = fmt::format("{}\n{} to {} ({} d), weather: {}{}\n\n", plain(s.at("scenario").get<std::string>()),
                                 span.at("from").get<std::string>(), span.at("to").get<std::string>(),
                                 span.at("days").get<int>(), plain(weather.at("source").get<std::string>()),
                                 std::isnan(annual) ? "" : fmt::format(", {:.0f} kWh/m2 a year", annual));
  if (const std::string set = overrides_text(s); !set.empty()) text += set + "\n";
  text += cut_short_text(s);
  text += verdict_text(s);
  for (const std::string& f : faults_in(s)) text += note("Fault", f);
  if (!faults_in(s).empty()) text += "\n";
  text += service_text(s);
  text += damage_text(s);
  text += mechanisms_text(s);
  const auto charge = [&](const char* key) { return percent_text(value(cell, key)); };
  const auto number = [&](const char* key, int decimals) { return fixed_text(value(cell, key), decimals); };
  text += fmt::format("Cell     charge {} at the start, {} at the end, lowest {} on {}\n", charge("soc_start"),
                      charge("soc_end"), charge("soc_min"), cell.at("soc_min_time").get<std::string>());
  text += fmt::format("         voltage {} V to {} V, lowest on {}\n", number("voltage_min_V", 3),
                      number("voltage_max_V", 3), cell.at("voltage_min_time").get<std::string>());
  text +=
      fmt::format("         temperature {} degC to {} degC; {} Ah in, {} Ah out\n\n", number("temperature_min_degC", 1),
                  number("temperature_max_degC", 1), number("charge_in_Ah", 3), number("charge_out_Ah", 3));

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
      uses.push_back({"lost in " + part + ": " + worded(cause), joules.get<double>()});
  }
  if (stored > 0) uses.push_back({"into the cell", stored});
  const double drawn = std::max(0.0, -stored), whole = harvested + drawn;
  text += fmt::format("Where every joule went: {} harvested{}\n", energy_text(harvested),
                      drawn > 0 ? ", " + energy_text(drawn) + " out of the cell" : std::string());
  text += bars(std::move(uses), whole);
  text += fmt::format("  balance: {} of the throughput by the ledger, {} against the stores in closed form\n\n",
                      residual_text(value(energy, "residual_ledger")),
                      residual_text(value(energy, "residual_independent")));

  for (const std::string& a : gathered(texts_of(s.at("assumptions")))) text += note("Assumed", a);
  const Json& engine = s.at("engine");
  text += fmt::format("Engine   {} steps, {} network solves, {:.2f} s\n", engine.at("steps").get<std::size_t>(),
                      engine.at("solves").get<std::size_t>(), value(engine, "wall_s"));
  text += fmt::format("Written  {0}/report.html, {0}/summary.json, {0}/trace.csv, {0}/events.csv\n\n", folder);
  return text + cautions();
}

void complain(const std::string& text) { std::fputs(text.c_str(), stderr); }

ProgressLine::ProgressLine() : terminal_(isatty(STDERR_FILENO) == 1) {}

ProgressLine::~ProgressLine() {
  if (shown_) complain("\r\x1b[K");
}

bool ProgressLine::is_due() {
  constexpr std::chrono::milliseconds between(200);
  if (!terminal_) return false;
  const auto now = std::chrono::steady_clock::now();
  if (shown_ && now - *shown_ < between) return false;
  shown_ = now;
  return true;
}

void ProgressLine::draw(const std::string& before, double share, const std::string& after) {
  constexpr double enough = 0.01;                                 // to tell the time from
  if (share < share_) begun_ = std::chrono::steady_clock::now();  // the next piece of work
  share_ = share;
  const std::chrono::duration<double> past = std::chrono::steady_clock::now() - begun_;
  std::string left;
  if (share > enough && share <= 1) left = ", " + duration_text(past.count() * (1 - share) / share) + " left";
  const auto filled = static_cast<std::size_t>(std::clamp(share, 0.0, 1.0) * bar_width);
  complain(fmt::format("\r{} [{}{}] {:3d} %{}{}\x1b[K", before, std::string(filled, '='),
                       std::string(bar_width - filled, ' '), static_cast<int>(share * 100), left, after));
  std::fflush(stderr);
}

void ProgressLine::show(Tick reached, double share) {
  if (is_due()) draw("replaying " + iso_time(reached).substr(0, 16) + "Z", share, "");
}

void ProgressLine::show(const std::string& doing, double share) {
  if (is_due()) draw(doing, share, "");
}

void ProgressLine::show(const EnsembleProgress& p) {
  if (!is_due()) return;
  std::string after;
  if (!p.worst.empty()) after += ", worst " + plain(p.worst).substr(0, 24);
  draw(fmt::format("member {}/{}", p.done, p.members), p.share, after);
}

void ProgressLine::show(const ReviveProgress& p) {
  if (!is_due()) return;
  draw(p.states == 0 ? "looking for states that stand" : fmt::format("state {}/{}", p.done, p.states), p.share, "");
}

namespace {

volatile std::sig_atomic_t signalled = 0;

void note_signal(int signal) { signalled = signal; }

}  // namespace

Interruptible::Interruptible() {
  struct sigaction ours = {};
  ours.sa_handler = note_signal;
  ours.sa_flags = static_cast<int>(SA_RESETHAND);
  signalled = 0;
  for (const int signal : signals) {
    struct sigaction before;
    sigaction(signal, nullptr, &before);
    if (before.sa_handler != SIG_IGN) sigaction(signal, &ours, nullptr);  // nohup, a shell's background
  }
}

Interruptible::~Interruptible() {
  for (const int signal : signals) {
    struct sigaction now;
    sigaction(signal, nullptr, &now);
    if (now.sa_handler == note_signal) std::signal(signal, SIG_DFL);
  }
}

void Interruptible::check() const {
  if (signalled != 0) throw Stopped{signalled};
}

}  // namespace overwinter
