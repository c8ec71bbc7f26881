#include "sim/zoom/zoom_page.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "sim/engine/simulator.hpp"
#include "sim/report/chart_library.hpp"
#include "sim/report/html.hpp"
#include "sim/report/texts.hpp"
#include "sim/text.hpp"
#include "sim/zoom/zoom_data.hpp"

namespace overwinter {

namespace {

constexpr const char* micro = "\u00B5s";
constexpr std::size_t listed_marks = 500, colors = 6, strokes = 3;

/// Between the texts of an attribute that zoom.js takes apart again.
std::string joined(const std::vector<std::string>& texts) {
  std::string all;
  for (const std::string& text : texts) all += (all.empty() ? "" : "|") + text;
  return all;
}

class Page {
 public:
  explicit Page(const Waveforms& w) : w_(w), extents_(extents(w)), panes_(panes(w, extents_)) {}

  std::string html() const {
    return filled(embedded_file("zoom.html"),
                  {{"title", escaped(w_.title).code},
                   {"style", embedded_file("report.css") + embedded_file("zoom.css")},
                   {"overview", overview().code},
                   {"standing", standing().code},
                   {"panes", mark_pane().code + all_panes().code},
                   {"data", zoom_data(w_, extents_)},
                   {"marks", section("events", "What happened", mark_table()).code},
                   {"signals", section("signals", "What every signal did", signal_table()).code},
                   {"cautions", embedded_file("cautions.html")},
                   {"drawing", chart_library("zoom.js")}});
  }

 private:
  std::string told(double value, const Signal& s) const {
    if (s.kind == Signal::Kind::regime) return s.labels[static_cast<std::size_t>(value)];
    return figure(value) + (s.holds() || s.unit.text == "1" ? "" : " " + s.unit.text);
  }
  std::string told_at(std::size_t row, std::size_t signal) const {
    return told(written_value(w_.value(row, signal), w_.signals[signal]), w_.signals[signal]);
  }
  std::string from_moment(Tick t) const { return offset_text(t - w_.moment, micro); }

  Html overview() const {
    Html facts;
    const auto fact = [&](const char* term, const std::string& text) {
      facts += element("div", element("dt", escaped(term)) + element("dd", escaped(text)));
    };
    fact("Moment", iso_time(w_.moment, 9));
    const SiteClock clock(w_.utc_offset);
    if (w_.utc_offset != 0) fact(("Standard time of the site, " + clock.name()).c_str(), clock.second(w_.moment));
    fact("Window", from_moment(w_.times.front()) + " to " + from_moment(w_.times.back()));
    fact("Rows", figure(static_cast<double>(w_.times.size())) + ", unevenly spaced");
    fact("Events", figure(static_cast<double>(w_.marks.size())));
    const Html occasion = w_.occasion.empty() ? Html{} : element("p", escaped(w_.occasion + "."), "class=\"occasion\"");
    return occasion + element("dl", facts, "class=\"facts\"") + Html{"\n"};
  }

  /// What has no pane, since nothing moves in it.
  Html standing() const {
    std::vector<std::string> titles;
    for (const Pane& pane : panes_) {
      if (pane.moving.empty()) titles.push_back("\u201C" + pane.title + "\u201D");
    }
    if (titles.empty()) return {};
    return element("p", escaped("Not drawn, since nothing moves in the window: " + listed(titles) +
                                ". Their values are in the table of all signals.")) +
           Html{"\n"};
  }

  Html pane(std::size_t number, const char* kind, const std::string& title, const Html& legend) const {
    const std::string id = fmt::format("pane-{}", number);
    return {
        fmt::format("<figure class=\"pane {0}\" id=\"{1}\">\n<figcaption id=\"{1}-title\">{2}</figcaption>\n"
                    "<div class=\"legend\">\n{3}</div>\n<div class=\"plot\" aria-labelledby=\"{1}-title\"></div>\n"
                    "</figure>\n",
                    kind, id, escaped(title).code, legend.code)};
  }

  Html mark_pane() const {
    if (w_.marks.empty()) return {};
    Html lanes;
    for (const MarkLane& lane : mark_lanes(w_)) {
      lanes += element("li", element("span", escaped(lane.group), "class=\"name\""),
                       "data-events=\"" + escaped(joined(lane.events)).code + "\"") +
               Html{"\n"};
    }
    return pane(0, "marks", "Events", element("ul", Html{"\n"} + lanes) + Html{"\n"});
  }

  Html all_panes() const {
    Html all;
    std::size_t number = 0;
    for (const Pane& p : panes_) {
      if (!p.moving.empty()) all += pane(++number, p.lanes ? "lanes" : "lines", p.title, p.lanes ? lanes(p) : lines(p));
    }
    return all;
  }

  Html name_and_value(std::size_t s) const {
    const std::size_t row = row_at(w_, w_.moment);
    return element("span", escaped(w_.signals[s].full_name()),
                   "class=\"name\" title=\"" + escaped(w_.signals[s].meaning).code + "\"") +
           element("span", escaped(told_at(row, s)), "class=\"value\"");
  }

  Html lanes(const Pane& p) const {
    Html moving, still;
    for (const std::size_t s : p.moving) {
      const Signal& signal = w_.signals[s];
      moving += element("li", name_and_value(s),
                        fmt::format("data-signal=\"{}\" data-labels=\"{}\"", s, escaped(joined(signal.labels)).code)) +
                Html{"\n"};
    }
    for (const std::size_t s : p.still) still += element("li", name_and_value(s)) + Html{"\n"};
    return element("ul", Html{"\n"} + moving) + Html{"\n"} + held(p.still.size(), still);
  }

  Html lines(const Pane& p) const {
    Html moving, alike, still;
    std::size_t number = 0;
    for (const std::size_t s : p.moving) moving += line(s, number++, true);
    for (const Alike& a : p.alike) {
      alike += line(a.signal, number++, false, element("small", escaped("as " + w_.signals[a.drawn].full_name())));
    }
    for (const std::size_t s : p.still) still += line(s, number++, false);
    return element("ul", Html{"\n"} + moving) + Html{"\n"} +
           folded(fmt::format("{} more that run{} like one of these", p.alike.size(), p.alike.size() == 1 ? "s" : ""),
                  alike) +
           held(p.still.size(), still);
  }

  Html line(std::size_t s, std::size_t number, bool drawn, const Html& note = {}) const {
    const std::string swatch = fmt::format("class=\"swatch color-{} stroke-{}\" aria-hidden=\"true\"", number % colors,
                                           number / colors % strokes);
    const Html tick{std::string("<input type=\"checkbox\"") + (drawn ? " checked" : "") + ">"};
    Html item = element("label", tick + element("span", {}, swatch) + name_and_value(s)) + note;
    for (std::size_t t = 0; t < w_.thresholds.size(); ++t) {
      const Threshold& threshold = w_.thresholds[t];
      if (threshold.signal != s) continue;
      item += element("small",
                      element("span", escaped(threshold.label), "class=\"name\"") +
                          element("span", escaped(told(written_value(threshold.value, w_.signals[s]), w_.signals[s])),
                                  "class=\"value\""),
                      fmt::format("data-threshold=\"{}\"", t));
    }
    return element("li", item,
                   fmt::format("data-signal=\"{}\" data-color=\"{}\" data-stroke=\"{}\"", s, number % colors,
                               number / colors % strokes)) +
           Html{"\n"};
  }

  Html held(std::size_t count, const Html& items) const {
    return folded(fmt::format("{} that hold{} still", count, count == 1 ? "s" : ""), items);
  }

  Html folded(const std::string& summary, const Html& items) const {
    if (items.code.empty()) return {};
    return element("details", element("summary", escaped(summary)) + element("ul", Html{"\n"} + items),
                   "class=\"folded\"") +
           Html{"\n"};
  }

  Html mark_table() const {
    HtmlTable table("Events in the window, with their time from the moment",
                    {{"No.", true}, {"From the moment", true}, {"Part"}, {"Event"}, {"Meaning"}});
    for (std::size_t m = 0; m < std::min(w_.marks.size(), listed_marks); ++m) {
      const Mark& mark = w_.marks[m];
      const Html go = element("button", escaped("Show"),
                              fmt::format("type=\"button\" class=\"go\" hidden data-at=\"{}\"", mark.time - w_.moment));
      table.row({escaped(std::to_string(m + 1)), escaped(from_moment(mark.time)) + Html{" "} + go,
                 escaped(mark.group()), escaped(mark.event), escaped(mark.meaning)});
    }
    Html more;
    if (w_.marks.size() > listed_marks) {
      more = element(
          "p", escaped(fmt::format("{} more stand in events.csv beside this file.", w_.marks.size() - listed_marks)));
    }
    return table.html() + more;
  }

  Html signal_table() const {
    HtmlTable table(
        "Every signal: at the window's start and end, and its first lowest and highest value",
        {{"Signal"}, {"At the start", true}, {"Lowest", true}, {"Highest", true}, {"At the end", true}, {"Meaning"}});
    for (std::size_t s = 0; s < w_.signals.size(); ++s) {
      const Signal& signal = w_.signals[s];
      const Extent& e = extents_[s];
      const bool ordered = signal.kind != Signal::Kind::regime && e.most > e.least;
      const auto extreme = [&](double value, std::size_t row) {
        if (!ordered) return Html{};
        return escaped(told(value, signal)) + element("small", escaped(from_moment(w_.times[row])));
      };
      table.row({escaped(signal.full_name()), escaped(told_at(0, s)), extreme(e.least, e.least_row),
                 extreme(e.most, e.most_row), escaped(told_at(w_.times.size() - 1, s)), escaped(signal.meaning)});
    }
    return table.html();
  }

  const Waveforms& w_;
  const std::vector<Extent> extents_;
  const std::vector<Pane> panes_;
};

}  // namespace

std::string zoom_html(const Waveforms& w) {
  require_sound(w);
  return Page(w).html();
}

}  // namespace overwinter
