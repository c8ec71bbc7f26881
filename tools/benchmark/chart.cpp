#include "tools/benchmark/chart.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace overwinter {

namespace {

constexpr double page_width = 640, page_height = 400, left = 60, right = 190, top = 20, bottom = 70;

/// A logarithmic axis over whole decades.
struct Decades {
  int low, high;  // decades
  double from, to;
  double operator()(double value) const { return from + (std::log10(value) - low) / (high - low) * (to - from); }
};

template <class Value>
Decades axis_of(const std::vector<WorkPrecisionRow>& rows, double from, double to, Value&& value) {
  double low = INFINITY, high = -INFINITY;
  for (const WorkPrecisionRow& row : rows) {
    low = std::min(low, std::log10(value(row)));
    high = std::max(high, std::log10(value(row)));
  }
  const int first = static_cast<int>(std::floor(low));
  return {first, std::max(first + 1, static_cast<int>(std::ceil(high))), from, to};
}

/// Colours that differ to the colour-blind too, and a shape each (Okabe & Ito 2008).
struct Look {
  const char *colour, *mark;  // the mark is drawn around 0, 0
};
constexpr Look looks[] = {
    {"#0072b2", "M-4 -4H4V4H-4Z"},     {"#009e73", "M0 -5L5 0L0 5L-5 0Z"},
    {"#d55e00", "M-5 4H5L0 -5Z"},      {"#cc79a7", "M-5 -1.5H-1.5V-5H1.5V-1.5H5V1.5H1.5V5H-1.5V1.5H-5Z"},
    {"#666666", "M-5 -4H5L0 5Z"},      {"#e69f00", "M-5 0L0 -3L5 0L0 3Z"},
    {"#56b4e9", "M0 -5L3 0L0 5L-3 0Z"}};

double error_of(const WorkPrecisionRow& row) { return std::max(row.charge_error, 1e-12); }
double cost_of(const WorkPrecisionRow& row) { return row.seconds_per_year; }

}  // namespace

std::string work_precision_chart(const WorkPrecision& w, const std::string& caption) {
  const Decades x = axis_of(w.rows, left, page_width - right, error_of),
                y = axis_of(w.rows, page_height - bottom, top, cost_of);
  std::string svg = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {1}\" width=\"{0}\" height=\"{1}\" "
      "font-family=\"sans-serif\" font-size=\"12\">\n<rect width=\"{0}\" height=\"{1}\" fill=\"white\"/>\n",
      page_width, page_height);
  for (int decade = x.low; decade <= x.high; ++decade) {
    const double at = x(std::pow(10, decade));
    svg += fmt::format(
        "<path d=\"M{0:.1f} {1}V{2}\" stroke=\"#ddd\"/><text x=\"{0:.1f}\" y=\"{3}\" "
        "text-anchor=\"middle\">1e{4}</text>\n",
        at, top, page_height - bottom, page_height - bottom + 16, decade);
  }
  for (int decade = y.low; decade <= y.high; ++decade) {
    for (const int digit : {1, 2, 5}) {
      if (digit > 1 && decade == y.high) break;
      const double value = digit * std::pow(10, decade), at = y(value);
      svg += fmt::format(
          "<path d=\"M{0} {1:.1f}H{2}\" stroke=\"#ddd\"/><text x=\"{3}\" y=\"{4:.1f}\" "
          "text-anchor=\"end\">{5:g}</text>\n",
          left, at, page_width - right, left - 6, at + 4, value);
    }
  }
  svg += fmt::format("<text x=\"{:.1f}\" y=\"{}\" text-anchor=\"middle\">largest error of the state of charge</text>\n",
                     (left + page_width - right) / 2, page_height - bottom + 34);
  svg += fmt::format(
      "<text transform=\"translate(14 {:.1f}) rotate(-90)\" text-anchor=\"middle\">seconds per simulated "
      "year</text>\n",
      (top + page_height - bottom) / 2);
  svg +=
      fmt::format("<text x=\"{}\" y=\"{}\" font-size=\"11\" fill=\"#444\">{}</text>\n", 8, page_height - 10, caption);

  std::vector<std::string> methods;
  for (const WorkPrecisionRow& row : w.rows) {
    if (std::find(methods.begin(), methods.end(), row.method) == methods.end()) methods.push_back(row.method);
  }
  for (std::size_t m = 0; m < methods.size(); ++m) {
    const Look& look = looks[m % std::size(looks)];
    std::string line, marks;
    for (const WorkPrecisionRow& row : w.rows) {
      if (row.method != methods[m]) continue;
      const double px = x(error_of(row)), py = y(cost_of(row));
      line += fmt::format("{}{:.1f} {:.1f}", line.empty() ? "M" : "L", px, py);
      marks += fmt::format("<path d=\"{}\" transform=\"translate({:.1f} {:.1f})\" fill=\"{}\"/>", look.mark, px, py,
                           look.colour);
    }
    const double key = top + 16 + 20 * static_cast<double>(m), beside = page_width - right + 16;
    svg +=
        fmt::format("<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"1.5\"/>{}\n", line, look.colour, marks);
    svg += fmt::format("<path d=\"{}\" transform=\"translate({} {})\" fill=\"{}\"/><text x=\"{}\" y=\"{}\">{}</text>\n",
                       look.mark, beside, key - 4, look.colour, beside + 12, key, methods[m]);
  }
  return svg + "</svg>\n";
}

}  // namespace overwinter
