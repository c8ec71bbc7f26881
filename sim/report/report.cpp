#include "sim/report/report.hpp"

#include <stdexcept>

#include "sim/report/charts.hpp"
#include "sim/report/embedded_report.hpp"
#include "sim/report/ledger.hpp"
#include "sim/report/sections.hpp"

namespace overwinter {

namespace {

const std::string& embedded(const std::string& name) {
  for (const EmbeddedFile& file : embedded_report()) {
    if (file.name == name) return file.text;
  }
  throw std::logic_error("no embedded " + name);
}

/// Two dashes could end the comment that holds the text.
std::string for_comment(std::string text) {
  for (std::size_t at = text.find("--"); at != std::string::npos; at = text.find("--", at)) text.replace(at, 2, "- -");
  return text;
}

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
  const Html brownouts = brownouts_section(summary, clock) + mechanisms_section(summary);
  std::string charts, chart_library;
  if (!figures.code.empty()) {
    charts = filled(embedded("charts.html"), {{"drawing", drawing_described(series).code},
                                              {"marks", marks_described(series).code},
                                              {"figures", figures.code},
                                              {"data", data}});
    chart_library = filled(embedded("drawing.html"), {{"licence", for_comment(embedded("copyright"))},
                                                      {"library_style", embedded("dygraph.min.css")},
                                                      {"library", embedded("dygraph.min.js")},
                                                      {"script", embedded("report.js")}});
  }
  return filled(embedded("page.html"), {{"title", title.code},
                                        {"style", embedded("report.css")},
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
                                        {"drawing", chart_library}});
}

}  // namespace overwinter
