#include "sim/report/html.hpp"

#include <regex>
#include <stdexcept>

namespace overwinter {

Html escaped(std::string_view text) {
  Html html;
  for (const char c : text) {
    switch (c) {
      case '&':
        html.code += "&amp;";
        break;
      case '<':
        html.code += "&lt;";
        break;
      case '>':
        html.code += "&gt;";
        break;
      case '"':
        html.code += "&quot;";
        break;
      case '\'':
        html.code += "&#39;";
        break;
      default:
        html.code += c;
    }
  }
  return html;
}

Html with_whole_dates(std::string_view text) {
  static const std::regex instant("[0-9]{4}-[0-9]{2}-[0-9]{2}( [0-9]{2}:[0-9]{2}(:[0-9]{2})?)?");
  return {std::regex_replace(escaped(text).code, instant, "<span class=\"when\">$&</span>")};
}

Html element(const std::string& tag, const Html& inner, const std::string& attributes) {
  return {"<" + tag + (attributes.empty() ? "" : " " + attributes) + ">" + inner.code + "</" + tag + ">"};
}

Html section(const std::string& id, std::string_view heading, const Html& body) {
  if (body.code.empty()) return {};
  return {"<section id=\"" + id + "\">\n<h2>" + escaped(heading).code + "</h2>\n" + body.code + "</section>\n"};
}

Html list_of(const std::vector<std::string>& texts) {
  Html items;
  for (const std::string& text : texts) items += Html{element("li", escaped(text)).code + "\n"};
  return texts.empty() ? Html{} : Html{"<ul>\n" + items.code + "</ul>\n"};
}

std::string class_of(std::optional<bool> answer) { return !answer ? "open" : *answer ? "yes" : "no"; }

Html judged(std::optional<bool> answer, std::string_view yes, std::string_view no, std::string_view undecided) {
  const char* const sign = !answer ? "?" : *answer ? "\u2713" : "\u2717";
  return element("span",
                 element("span", Html{sign}, "class=\"sign\" aria-hidden=\"true\"") + Html{" "} +
                     escaped(!answer   ? undecided
                             : *answer ? yes
                                       : no),
                 "class=\"judged " + class_of(answer) + "\"");
}

HtmlTable::HtmlTable(std::string_view caption, std::vector<Column> columns)
    : caption_(escaped(caption)), columns_(std::move(columns)) {}

void HtmlTable::row(const std::vector<Html>& cells, const std::string& css_class) {
  if (cells.size() != columns_.size()) throw std::logic_error("a table row with a wrong number of cells");
  Html row;
  for (std::size_t i = 0; i < cells.size(); ++i) {
    const std::string figures = columns_[i].figures ? "class=\"figures\"" : "";
    row += i == 0 ? element("th", cells[i], "scope=\"row\"") : element("td", cells[i], figures);
  }
  rows_ += Html{element("tr", row, css_class.empty() ? "" : "class=\"" + css_class + "\"").code + "\n"};
}

Html HtmlTable::html() const {
  if (empty()) return {};
  Html head;
  for (const Column& column : columns_) {
    head += element("th", escaped(column.title), column.figures ? "scope=\"col\" class=\"figures\"" : "scope=\"col\"");
  }
  return {"<div class=\"table\" role=\"region\" tabindex=\"0\" aria-label=\"" + caption_.code + "\"><table>\n" +
          element("caption", caption_).code + "\n<thead>" + element("tr", head).code + "</thead>\n<tbody>\n" +
          rows_.code + "</tbody></table></div>\n"};
}

std::string filled(std::string_view page, const std::map<std::string, std::string>& pieces) {
  std::string text;
  for (std::size_t at = 0;;) {
    const std::size_t open = page.find("{{", at);
    text += page.substr(at, open - at);
    if (open == std::string_view::npos) return text;
    const std::size_t close = page.find("}}", open);
    if (close == std::string_view::npos) throw std::logic_error("a place in the page that does not end");
    const std::string name(page.substr(open + 2, close - open - 2));
    const auto piece = pieces.find(name);
    if (piece == pieces.end()) throw std::logic_error("nothing for the page's place " + name);
    text += piece->second;
    at = close + 2;
  }
}

}  // namespace overwinter
