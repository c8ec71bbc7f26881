#include "sim/report/chart_library.hpp"

#include <stdexcept>

#include "sim/report/embedded_report.hpp"
#include "sim/report/html.hpp"

namespace overwinter {

namespace {

/// Two dashes could end the comment that holds the text.
std::string for_comment(std::string text) {
  for (std::size_t at = text.find("--"); at != std::string::npos; at = text.find("--", at)) text.replace(at, 2, "- -");
  return text;
}

}  // namespace

const std::string& embedded_file(const std::string& name) {
  for (const EmbeddedFile& file : embedded_report()) {
    if (file.name == name) return file.text;
  }
  throw std::logic_error("no embedded " + name);
}

std::string chart_library(const std::string& script) {
  return filled(embedded_file("drawing.html"), {{"licence", for_comment(embedded_file("copyright"))},
                                                {"library_style", embedded_file("dygraph.min.css")},
                                                {"library", embedded_file("dygraph.min.js")},
                                                {"script", embedded_file(script)}});
}

}  // namespace overwinter
