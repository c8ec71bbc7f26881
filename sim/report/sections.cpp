#include "sim/report/sections.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "sim/netlist/units_text.hpp"
#include "sim/number_text.hpp"
#include "sim/stop.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

std::string figure_of(const Facts& fact, const std::string& unit = {}) { return figure(number_of(fact), unit); }

Html amount(const Facts& fact, const std::string& unit = {}) { return escaped(figure_of(fact, unit)); }

/// A number as `text` writes it, which takes number and decimals.
template <class Text>
Html told(const Facts& fact, Text&& text, int decimals, const char* unit = "") {
  const std::optional<double> value = number_of(fact);
  return escaped(value ? text(*value, decimals) + unit : "not known");
}

Html duration(const Facts& fact) {
  const std::optional<double> seconds = number_of(fact);
  return escaped(seconds ? duration_text(*seconds) : "none");
}

Html instant(const Facts& fact, const SiteClock& clock) {
  return element("span", escaped(clock.second(text_of(fact))), "class=\"when\"");
}

Html paragraph(std::string_view text) { return Html{element("p", escaped(text)).code + "\n"}; }

std::optional<bool> outcome_of(const std::string& outcome) {
  if (outcome == "recovered") return true;
  if (outcome == "needs human") return false;
  return std::nullopt;
}

Html chain_of(const Facts& chain, const SiteClock& clock) {
  Html items;
  if (!chain.is_array()) return items;
  for (const Facts& link : chain) {
    const std::string part = text_of(member(link, "part"));
    items += element("li", instant(member(link, "time"), clock) + Html{" "} +
                               escaped(part + (part.empty() ? "" : ": ") + text_of(member(link, "event"))));
  }
  return element("ol", items, "class=\"chain\"");
}

/// The causal chain of each of the first episodes, to be opened.
Html stories(const Facts& events, const SiteClock& clock) {
  constexpr int most = 50;
  Html all;
  int n = 0;
  for (const Facts& event : events) {
    const Facts& links = member(member(event, "story"), "links");
    if (++n > most || !links.is_array()) continue;
    Html items;
    for (const Facts& link : links) {
      items += element("li", instant(member(link, "time"), clock) + Html{" "} + escaped(text_of(member(link, "text"))));
    }
    const Html title = element("summary", escaped(fmt::format("Why B{}: {}", n, text_of(member(event, "cause")))));
    all += element("details", title + element("ol", items, "class=\"chain\""));
  }
  return all;
}

Html episodes(const Facts& events, const SiteClock& clock) {
  HtmlTable table("Brown-out episodes, times in " + clock.name(), {{"No."},
                                                                   {"Began"},
                                                                   {"Cause"},
                                                                   {"Chain, first link first"},
                                                                   {"Further attempts", true},
                                                                   {"Outcome"},
                                                                   {"Recovery"}});
  int n = 0;
  for (const Facts& event : events) {
    Html began = instant(member(event, "time"), clock);
    if (const std::optional<Tick> tick = tick_of(text_of(member(event, "time")))) {
      began +=
          Html{fmt::format(" <button type=\"button\" class=\"go\" data-at=\"{}\" hidden>show in the charts</button>",
                           (*tick + clock.offset()) / (ticks_per_second / 1000))};
    }
    const std::string outcome = text_of(member(event, "outcome"));
    Html ended = judged(outcome_of(outcome), outcome, outcome, outcome);
    if (const Facts& since = member(event, "needs_human_since"); since.is_string())
      ended += escaped(" since ") + instant(since, clock);
    if (const std::string sunny = sunny_days_of(event); !sunny.empty() && outcome != "recovered")
      ended += element("small", escaped(sunny));
    Html recovery = duration(member(event, "recovery_s"));
    if (const Facts& when = member(event, "recovered"); when.is_string())
      recovery += escaped(", at ") + instant(when, clock);
    Html cause = escaped(text_of(member(event, "cause")));
    if (const std::string id = text_of(member(event, "cause_id")); !id.empty()) cause += element("small", escaped(id));
    table.row({Html{fmt::format("B{}", ++n)}, began, cause, chain_of(member(event, "chain"), clock),
               amount(member(event, "attempts")), ended, recovery});
  }
  return table.html();
}

/// What was stepped over of reset loops; nothing without any.
Html reset_loops(const Facts& summary) {
  const Facts &stepped_over = member(summary, "stepped_over"), &restarts = member(stepped_over, "restarts_in_vain");
  if (!restarts.is_array() || restarts.empty()) return {};
  const auto number = [&](const char* key) { return number_of(member(stepped_over, key)); };
  const auto energy = [&](const char* key) {
    const std::optional<double> joules = number(key);
    return joules ? energy_text(std::abs(*joules)) : "an energy not known";
  };
  const std::optional<double> time = number("time_s");
  HtmlTable table("Restarts in vain that were stepped over, about", {{"Part"}, {"What it did"}, {"Times", true}});
  for (const Facts& r : restarts) {
    const std::optional<double> times = number_of(member(r, "times"));
    table.row({escaped(text_of(member(r, "part"))), escaped(text_of(member(r, "event"))),
               escaped(times ? fixed_text(*times, 0) : "not known")});
  }
  return paragraph(restart_in_vain) +
         paragraph(fmt::format("Where they were one like another, {} in all were stepped over at mean rates; {} went "
                               "into them, and the balance of energy is open by {}.",
                               time ? duration_text(*time) : "a time not known", energy("energy_J"),
                               energy("unbalanced_J"))) +
         table.html();
}

std::string need_of_human(const Facts& brownouts) {
  const std::optional<double> days = number_of(member(brownouts, "sunny_days"));
  if (!days) return {};
  std::string text = fmt::format("A brown-out needs a human if no wake was completed within {} after it.",
                                 how_many(figure(*days), "sunny day"));
  const Facts& light = member(brownouts, "sunny_day_kWh_m2_by_month");
  if (!light.is_object() || light.empty()) return text;
  std::vector<std::string> months;
  for (const auto& [month, kwh] : light.items()) {
    const std::optional<double> value = number_of(kwh);
    months.push_back("month " + month + ": " + (value ? fmt::format("{:.2f}", *value) : "not known"));
  }
  return text + " A sunny day brings at least its month's median light, in kWh/m\u00B2 on the horizontal (" +
         listed(months) + "), whether or not the charger takes it.";
}

}  // namespace

Html overview(const Facts& s) {
  const Facts &span = member(s, "span"), &site = member(s, "site"), &weather = member(s, "weather");
  Html rows;
  const auto fact = [&rows](const char* name, const std::string& value) {
    if (!value.empty()) rows += element("div", element("dt", escaped(name)) + element("dd", escaped(value)));
  };
  if (span.is_object()) {
    fact("Span", text_of(member(span, "from")) + " to " + text_of(member(span, "to")) + ", " +
                     figure_of(member(span, "days"), "days"));
  }
  if (site.is_object()) {
    fact("Site",
         fmt::format("latitude {}\u00B0, longitude {}\u00B0, {} above the sea", figure_of(member(site, "latitude_deg")),
                     figure_of(member(site, "longitude_deg")), figure_of(member(site, "elevation_m"), "m")));
  }
  if (weather.is_object()) fact("Weather", text_of(member(weather, "source")));
  for (const std::string& o : overrides_of(s)) fact("In place of the scenario's", o);
  return rows.code.empty() ? Html{} : Html{element("dl", rows, "class=\"facts\"").code + "\n"};
}

Html verdict_section(const Facts& s) {
  const Facts& verdict = member(s, "verdict");
  if (!verdict.is_object()) return {};
  const std::optional<bool> survives = truth_of(member(verdict, "survives"));
  Html html = element("p",
                      (member(s, "service").is_object() ? judged(survives, "Survives", "Does not survive", "Undecided")
                                                        : judged(survives, "Held", "Failed", "Undecided")) +
                          Html{" "} + element("span", escaped(text_of(member(verdict, "text"))), "class=\"sentence\""),
                      "class=\"verdict " + class_of(survives) + "\"");
  if (const Facts& cut = member(s, "cut_short"); cut.is_object()) {
    html += element("p",
                    element("span", Html{"!"}, "class=\"sign\" aria-hidden=\"true\"") + Html{" "} +
                        escaped("Cut short at " + text_of(member(cut, "reached")) + " by " + cut_short_by(cut) +
                                ": everything on this page tells of the time before that, not of the whole span."),
                    "class=\"warned\"");
  }
  if (truth_of(member(verdict, "typical_year")).value_or(false)) {
    html += element("p", escaped("Typical year: bad winters are not in it."), "class=\"warned\"");
  }
  std::vector<std::string> warnings = findings_of(s);
  for (std::string& w : texts_of(member(member(s, "weather"), "warnings"))) warnings.push_back(std::move(w));
  for (const std::string& w : gathered(warnings)) {
    html += element("p", element("span", Html{"!"}, "class=\"sign\" aria-hidden=\"true\"") + Html{" "} + escaped(w),
                    "class=\"warned\"");
  }
  return html;
}

Html requirements_section(const Facts& s) {
  const Facts& requirements = member(s, "requirements");
  if (!requirements.is_array()) return {};
  HtmlTable table("What was required, and what the run reached",
                  {{"Requirement"}, {"Limit", true}, {"Reached", true}, {"Held"}});
  for (const Facts& r : requirements) {
    Html name = escaped(worded(text_of(member(r, "name"))));
    if (truth_of(member(r, "by_default")).value_or(false))
      name += element("small", escaped(std::string(" ") + by_default));
    const std::string reached = text_of(member(r, "value_text"));
    table.row({name, escaped(text_of(member(r, "relation")) + " " + text_of(member(r, "limit_text"))),
               escaped(reached.empty() ? "not known" : reached), judged(truth_of(member(r, "held")))});
  }
  return section("requirements", "Requirements", table.html());
}

Html service_section(const Facts& s, const SiteClock& clock) {
  const Facts &service = member(s, "service"), &gap = member(service, "longest_gap");
  if (!service.is_object()) return {};
  HtmlTable table("Service over the span", {{"Quantity"}, {"Value", true}, {"What it counts"}});
  const auto line = [&table](const char* name, const Html& value, const std::string& meaning) {
    table.row({escaped(name), value, escaped(meaning)});
  };
  line("Alarms due", amount(member(service, "due")), "times at which the instrument should have woken");
  line("Wakes", amount(member(service, "wakes")), "alarms at which the controller got power");
  line("Completed", amount(member(service, "wakes_completed")),
       "wakes that reached the end of their last phase with a valid supply");
  line("Missed", amount(member(service, "wakes_missed")), "due, not completed");
  line("Failed starts", amount(member(service, "failed_starts")), "power came, the supply never became valid");
  line("Worst day", amount(member(service, "worst_day_wakes")), "fewest completed wakes in a day of standard time");
  std::string week = "fewest completed wakes in 7 x 24 h";
  if (const std::string from = text_of(member(service, "worst_week_from")); !from.empty())
    week += ", from " + clock.second(from);
  line("Worst week", amount(member(service, "worst_week_wakes")), week);
  std::string between = "from the end of one completed wake to the end of the next";
  if (gap.is_object()) {
    between = "no completed wake from " + clock.second(text_of(member(gap, "from"))) + " to " +
              clock.second(text_of(member(gap, "to")));
    if (truth_of(member(gap, "open")).value_or(false)) between += ", still open when the span ended";
  }
  line("Longest gap", duration(member(service, "longest_gap_s")), between);
  std::string late = "from each alarm due to the start of the next completed wake";
  if (const std::optional<double> share = number_of(member(service, "downtime_fraction")))
    late += ": " + percent_text(*share, 2) + " of the span";
  line("Downtime", duration(member(service, "downtime_s")), late);
  return section("service", "Service", table.html());
}

Html brownouts_section(const Facts& s, const SiteClock& clock) {
  const Facts& brownouts = member(s, "brownouts");
  if (!brownouts.is_object()) return section("loops", "Reset loops", reset_loops(s));
  Html loops = reset_loops(s);
  if (!loops.code.empty()) loops = Html{"<h3>Reset loops</h3>\n"} + loops;
  const std::optional<double> count = number_of(member(brownouts, "count"));
  if (count && *count == 0) return section("brownouts", "Brown-outs", paragraph("None in this span.") + loops);
  const auto of = [&](const char* key) { return figure_of(member(brownouts, key)); };
  std::string sum = fmt::format(
      "{}: {} recovered without help, {} in need of a human, {} undecided when the span ended.",
      count ? how_many(figure(*count), "episode") : "Episodes", of("recovered"), of("needs_human"), of("undecided"));
  if (const std::optional<double> longest = number_of(member(brownouts, "longest_recovery_s")); longest)
    sum += " Longest recovery: " + duration_text(*longest) + ".";
  Html body = paragraph(sum);
  if (const std::string need = need_of_human(brownouts); !need.empty()) body += paragraph(need);
  const Facts &causes = member(brownouts, "by_cause"), &events = member(brownouts, "events");
  if (causes.is_object()) {
    HtmlTable table("Brown-outs by cause: what first stopped feeding the controller", {{"Cause"}, {"Episodes", true}});
    for (const auto& [cause, n] : causes.items()) table.row({escaped(cause), amount(n)});
    body += table.html();
  }
  if (events.is_array()) body += episodes(events, clock) + stories(events, clock);
  return section("brownouts", "Brown-outs", body + loops);
}

Html damage_section(const Facts& s, const SiteClock& clock) {
  const Facts& all = member(member(s, "damage"), "all");
  if (!all.is_array()) return {};
  if (all.empty()) return section("damage", "Damage", paragraph("No part went beyond its absolute limits."));
  HtmlTable table("Limits that parts went beyond, times in " + clock.name(),
                  {{"Part"}, {"Kind"}, {"Times", true}, {"First"}, {"In all", true}, {"Worst", true}, {"Limit", true}});
  for (const Facts& d : all) {
    const std::string unit = text_of(member(d, "unit"));
    table.row({escaped(text_of(member(d, "part"))), escaped(text_of(member(d, "kind"))), amount(member(d, "times")),
               instant(member(d, "first"), clock), duration(member(d, "beyond_s")), amount(member(d, "worst"), unit),
               amount(member(d, "limit"), unit)});
  }
  return section("damage", "Damage", table.html());
}

Html mechanisms_section(const Facts& s) {
  return section("mechanisms", "Mechanisms at work", list_of(mechanisms_of(s)));
}

Html margins_section(const Facts& s, const SiteClock& clock) {
  const Facts &margins = member(s, "margins"), &all = member(margins, "all");
  std::vector<const Facts*> rows;
  if (all.is_array()) {
    for (const Facts& margin : all) {
      if (number_of(member(margin, "margin_V"))) rows.push_back(&margin);
    }
  }
  const auto volts = [](const Facts* margin) { return *number_of(member(*margin, "margin_V")); };
  std::stable_sort(rows.begin(), rows.end(), [&](const Facts* a, const Facts* b) { return volts(a) < volts(b); });
  HtmlTable table("Thinnest margin to each threshold, times in " + clock.name(),
                  {{"Part and threshold"}, {"Margin", true}, {"When"}, {"In"}});
  for (const Facts* margin : rows) {
    const double value = volts(margin);
    const bool crossed = truth_of(member(*margin, "crossed")).value_or(false);
    table.row({escaped(text_of(member(*margin, "part")) + ": " + text_of(member(*margin, "threshold"))),
               escaped(crossed && value == 0 ? "crossed" : millivolts_text(value) + (crossed ? ", crossed" : "")),
               instant(member(*margin, "time"), clock),
               escaped(truth_of(member(*margin, "worst_case")).value_or(false) ? "worst case of a switch-on"
                                                                               : "the course of the run")});
  }
  const std::string zooms = zooms_of(s);
  return section("margins", "Thinnest margins",
                 table.html() + (zooms.empty() ? Html{} : paragraph("Zoom: " + zooms + ".")));
}

Html cell_section(const Facts& s, const SiteClock& clock) {
  const Facts& cell = member(s, "cell");
  if (!cell.is_object()) return {};
  HtmlTable table("The cell over the span", {{"Quantity"}, {"Value", true}, {"When"}});
  const auto line = [&](const char* name, const Html& value, const char* time = "") {
    table.row({escaped(name), value, instant(member(cell, time), clock)});
  };
  const auto charge = [&](const char* key) { return told(member(cell, key), percent_text, 1); };
  const auto value = [&](const char* key, int decimals, const char* unit) {
    return told(member(cell, key), fixed_text, decimals, unit);
  };
  line("State of charge at the start", charge("soc_start"));
  line("State of charge, lowest", charge("soc_min"), "soc_min_time");
  line("State of charge, highest", charge("soc_max"), "soc_max_time");
  line("State of charge at the end", charge("soc_end"));
  line("Voltage, lowest", value("voltage_min_V", 3, " V"), "voltage_min_time");
  line("Voltage, highest", value("voltage_max_V", 3, " V"), "voltage_max_time");
  line("Temperature, lowest", value("temperature_min_degC", 1, " \u00B0C"), "temperature_min_time");
  line("Temperature, highest", value("temperature_max_degC", 1, " \u00B0C"), "temperature_max_time");
  line("Charge in", value("charge_in_Ah", 3, " Ah"));
  line("Charge out", value("charge_out_Ah", 3, " Ah"));
  return section("cell", "The cell", table.html());
}

Html remarks_section(const Facts& s) {
  Html body;
  const auto part = [&body](const char* heading, const std::vector<std::string>& texts) {
    body += Html{element("h3", escaped(heading)).code + "\n"};
    body += texts.empty() ? paragraph("None.") : list_of(texts);
  };
  const auto given = [&part](const char* heading, const Facts& facts) {
    if (!facts.is_null()) part(heading, gathered(texts_of(facts)));
  };
  if (const auto faults = faults_in(s); !faults.empty()) part("Faults that were given", faults);
  given("Assumptions", member(s, "assumptions"));
  return section("remarks", "Remarks", body);
}

Html making_section(const Facts& s) {
  const Facts &weather = member(s, "weather"), &inputs = member(s, "inputs_sha256"), &engine = member(s, "engine");
  HtmlTable run("The run", {{"What"}, {"Value"}});
  const auto line = [&run](const char* name, const Html& value) {
    if (!value.code.empty()) run.row({escaped(name), value});
  };
  line("overwinter version", escaped(text_of(member(s, "version"))));
  line("Weather", escaped(text_of(member(weather, "source"))));
  line("Weather file", escaped(text_of(member(weather, "file"))));
  if (const Facts& years = member(weather, "years"); years.is_array() && !years.empty()) {
    std::string list;
    for (const Facts& year : years) list += (list.empty() ? "" : ", ") + figure_of(year);
    line("Years in the weather file", escaped(list));
  }
  if (number_of(member(weather, "annual_kWh_m2")))
    line("Light in that file",
         told(member(weather, "annual_kWh_m2"), fixed_text, 0, " kWh/m\u00B2 a year on the horizontal"));
  Html body = run.html();
  if (inputs.is_object()) {
    HtmlTable table("Inputs", {{"File"}, {"SHA-256"}});
    for (const auto& [file, hash] : inputs.items()) table.row({escaped(file), element("code", escaped(text_of(hash)))});
    body += table.html();
  }
  if (engine.is_object()) {
    HtmlTable table("Work of the engine", {{"What"}, {"Value", true}});
    for (const auto& [name, value] : engine.items()) {
      if (name == "wall_s") continue;  // two runs write the same bytes
      table.row({escaped(worded(name)), value.is_string() ? escaped(text_of(value)) : amount(value)});
    }
    body += table.html();
  }
  return section("making", "How this run was made", body);
}

}  // namespace overwinter
