#include "sim/report/report.hpp"

#include "sim/report/chart_library.hpp"
#include "sim/report/charts.hpp"
#include "sim/report/ledger.hpp"
#include "sim/report/sections.hpp"

namespace overwinter {

namespace {

std::string time_note(const SiteClock& clock) {
  const std::string name = clock.name();
  return name == "UTC"
             ? "All times are UTC, which is the site's standard time; days begin at its midnight."
             : "All times are the site's standard time, " + name + ", without summer time; days begin at its midnight.";
}

}  // namespace

std::string report_html(const nlohmann::ordered_json& summary, const ReportSeries& series) {
  const SiteClock clock(series.utc_offset);
  const std::string scenario = text_of(member(summary, "scenario"));
  const Html title = escaped(scenario.empty() ? "a run" : scenario);
  const std::string data = chart_data(summary, series);
  const Html figures = chart_figures(summary, series);
  const Html brownouts =
      brownouts_section(summary, clock) + damage_section(summary, clock) + mechanisms_section(summary);
  std::string charts, drawing;
  if (!figures.code.empty()) {
    charts = filled(embedded_file("charts.html"), {{"drawing", drawing_described(series).code},
                                                   {"marks", marks_described(series).code},
                                                   {"figures", figures.code},
                                                   {"data", data}});
    drawing = chart_library("report.js");
  }
  return filled(embedded_file("page.html"), {{"title", title.code},
                                             {"style", embedded_file("report.css")},
                                             {"overview", overview(summary).code},
                                             {"verdict", verdict_section(summary).code},
                                             {"time_note", escaped(time_note(clock)).code},
                                             {"requirements", requirements_section(summary).code},
                                             {"service", service_section(summary, clock).code},
                                             {"brownouts", brownouts.code},
                                             {"margins", margins_section(summary, clock).code},
                                             {"charts", charts},
                                             {"ledger", ledger_section(summary).code},
                                             {"cell", cell_section(summary, clock).code},
                                             {"remarks", remarks_section(summary).code},
                                             {"making", making_section(summary).code},
                                             {"cautions", embedded_file("cautions.html")},
                                             {"drawing", drawing}});
}

}  // namespace overwinter
