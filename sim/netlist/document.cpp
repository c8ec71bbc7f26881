#include "sim/netlist/document.hpp"

#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <cctype>
#include <optional>
#include <sstream>
#include <string_view>
#include <utility>

#include "sim/text.hpp"

namespace overwinter {
namespace {

std::vector<std::string> split_lines(const std::string& text) {
  std::vector<std::string> lines(1);
  for (const char c : text) {
    if (c == '\n') {
      lines.emplace_back();
    } else {
      lines.back() += c;
    }
  }
  return lines;
}

/// Without byte-order mark and carriage returns at line ends.
std::string normalised(const std::string& text) {
  std::string result;
  std::size_t i = text.compare(0, 3, "\xEF\xBB\xBF") == 0 ? 3 : 0;
  for (; i < text.size(); ++i) {
    if (text[i] == '\r' && i + 1 < text.size() && text[i + 1] == '\n') continue;
    result += text[i];
  }
  return result;
}

/// The text of a comment on the line, without its '#'; empty if there is none.
std::string comment_of(std::string_view line) {
  char quote = 0;
  char before = ' ';  // the last character that is not a blank
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (quote) {
      if (c == quote) quote = 0;
    } else if (c == '#' && (i == 0 || std::isspace(static_cast<unsigned char>(line[i - 1])))) {
      return trimmed(line.substr(i + 1));
    } else if ((c == '"' || c == '\'') && std::string_view(" :,[{-").find(before) != std::string_view::npos) {
      quote = c;
    }
    if (!std::isspace(static_cast<unsigned char>(c))) before = c;
  }
  return {};
}

struct Syntax {
  std::string message, suggestion;
};

Syntax explained(const std::string& library_message, char at) {
  const std::string indentation = "check the indentation of this line and of the line before it";
  if (library_message == YAML::ErrorMsg::MAP_VALUE) {
    return {"not valid YAML: no value can begin at this ':'", indentation + ", and quote a value that contains ': '"};
  }
  if (library_message == YAML::ErrorMsg::END_OF_MAP) {
    return {"not valid YAML: a key followed by ':' should stand here", indentation};
  }
  if (library_message == YAML::ErrorMsg::END_OF_SEQ) {
    return {"not valid YAML: the next '-' of the list should stand here", indentation};
  }
  if (library_message == YAML::ErrorMsg::FLOW_END) {
    return {"not valid YAML: this bracket closes nothing", "remove it, or open the bracket it belongs to"};
  }
  if (library_message == YAML::ErrorMsg::UNKNOWN_TOKEN) {
    return {std::string("not valid YAML: a value cannot begin with '") + at + "'", "put the value in quotes"};
  }
  return {"not valid YAML: " + library_message, indentation};
}

}  // namespace

/// Turns the parser's events into nodes.
class DocumentBuilder final : public YAML::EventHandler {
 public:
  DocumentBuilder(Document& document, Faults& faults) : d_(document), faults_(faults) {}

  /// False if there is no usable document.
  bool read(const std::string& text) {
    if (!check_characters() || !check_tabs()) return false;
    std::istringstream in(text);
    try {
      YAML::Parser parser(in);
      bool more = parser.HandleNextDocument(*this);
      if (!more) {
        faults_.add(d_.fault(at(1, 1), "the file is empty", "fill it line by line, KEY: VALUE, or name another file"));
        return false;
      }
      while (more && documents_ == 1) more = parser.HandleNextDocument(*this);
    } catch (const YAML::ParserException& e) {
      if (documents_ <= 1) syntax_fault(e);
      if (documents_ <= 1) return false;
    }
    if (unclosed_) return false;
    if (d_.root_.is_mapping()) return true;
    if (!d_.root_.is_refused()) {
      const bool glued = d_.root_.is_scalar() && d_.root_.text.find(':') != std::string::npos;
      faults_.add(d_.fault(d_.root_, "the file must be a mapping of keys to values, not " + described(d_.root_),
                           glued ? "put a blank after the colon" : "begin its lines with KEY: VALUE"));
    }
    return false;
  }

  void OnDocumentStart(const YAML::Mark& mark) override {
    if (++documents_ == 2) {
      d_.root_.incomplete = true;
      faults_.add(
          d_.fault(at(mark), "a second document begins here; a file holds one", "put it into a file of its own"));
    }
  }
  void OnDocumentEnd() override {}

  void OnNull(const YAML::Mark& mark, YAML::anchor_t) override {
    Node node = at(mark);
    const std::string_view rest = rest_of_line(mark);
    bool written = false;
    for (const std::string_view word : {"~", "null", "Null", "NULL"}) {
      if (rest.substr(0, word.size()) != word) continue;
      const std::string_view after = rest.substr(word.size());
      if (after.empty() || std::string_view(" \t,]}").find(after[0]) != std::string_view::npos) {
        written = true;
        node.width = static_cast<int>(word.size());
      }
    }
    if (!written) cure_empty(node, mark);
    put(std::move(node));
  }

  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    Node node = at(mark);
    refuse_alias(node);
    node.kind = Node::Kind::refused;
    put(std::move(node));
  }

  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t, const std::string& value) override {
    Node node = at(mark);
    node.kind = Node::Kind::scalar;
    node.text = value;
    node.quoted = tag == "!";
    const std::string_view rest = rest_of_line(mark);
    if (rest.substr(0, value.size()) == value && !node.quoted) {
      node.text_column = node.column;
      node.width = characters(value);
    } else if (node.quoted && rest.size() > value.size() + 1 && rest.substr(1, value.size()) == value &&
               rest[value.size() + 1] == rest[0]) {
      node.text_column = node.column + 1;
      node.width = characters(value) + 2;
    } else {
      node.width = characters(trimmed(rest));
      if (node.quoted && !is_closed(mark)) {
        unclosed_ = true;
        faults_.add(d_.fault(at(mark), quote_message, "close it"));
      }
    }
    check_tag(node, tag);
    put(std::move(node));
  }

  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t,
                       YAML::EmitterStyle::value style) override {
    open(mark, tag, Node::Kind::sequence, style);
  }
  void OnSequenceEnd() override { close(); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t,
                  YAML::EmitterStyle::value style) override {
    open(mark, tag, Node::Kind::mapping, style);
  }
  void OnMapEnd() override { close(); }

  void OnAnchor(const YAML::Mark& mark, const std::string& name) override {
    if (documents_ > 1) return;
    Node node = at(mark);
    node.width = characters(name) + 1;
    faults_.add(d_.fault(node, "anchors are not used in these files", "write the value out where it is needed"));
  }

 private:
  struct Frame {
    Node node;
    bool flow = false;
    std::optional<Node> key;  // of a mapping, once it was read
  };

  Node at(int line, int column) const {
    Node node;
    node.line = node.last_line = line;
    node.column = column;
    return node;
  }
  /// The library's marks count from 0 and in bytes.
  Node at(const YAML::Mark& mark) const {
    const std::string line = d_.line(mark.line + 1);
    return at(mark.line + 1, characters(std::string_view(line).substr(0, static_cast<std::size_t>(mark.column))) + 1);
  }
  std::string_view rest_of_line(const YAML::Mark& mark) const {
    if (static_cast<std::size_t>(mark.line) >= d_.lines_.size()) return {};
    const std::string_view line = d_.lines_[static_cast<std::size_t>(mark.line)];
    return line.substr(std::min(line.size(), static_cast<std::size_t>(mark.column)));
  }

  /// The library places an empty value at the next token: its place is its key, or the '-' of its item.
  void cure_empty(Node& node, const YAML::Mark& mark) const {
    if (stack_.empty()) return;
    if (stack_.back().key) {
      const Node& key = *stack_.back().key;
      node.line = node.last_line = key.line;
      node.column = key.column;
      node.width = key.width;
      return;
    }
    if (stack_.back().node.kind != Node::Kind::sequence || stack_.back().flow) return;
    for (int number = mark.line + 1; number > 0; --number) {
      std::string line = d_.line(number);
      if (number == mark.line + 1) line.resize(std::min(line.size(), static_cast<std::size_t>(mark.column)));
      const std::size_t last = line.substr(0, line.find('#')).find_last_not_of(" \t");
      if (last == std::string::npos) continue;
      node.line = node.last_line = number;
      node.column = characters(line.substr(0, last)) + 1;
      return;
    }
  }

  void refuse_alias(Node node) {
    if (documents_ > 1) return;
    const std::string line = d_.line(node.line);
    const std::string_view rest = std::string_view(line).substr(std::min(line.size(), byte_offset(line, node.column)));
    node.width = characters(rest.substr(0, rest.find_first_of(" ,]}:")));
    faults_.add(d_.fault(node, "aliases are not used in these files", "write the value out where it is needed"));
  }

  /// The library lets the end of the file end a quote. True also for block scalars.
  bool is_closed(const YAML::Mark& mark) const {
    const std::string_view first = rest_of_line(mark);
    const char quote = first.empty() ? ' ' : first[0];
    if (quote != '"' && quote != '\'') return true;
    for (int number = mark.line + 1; number <= static_cast<int>(d_.lines_.size()); ++number) {
      const std::string line = d_.line(number);
      for (std::size_t i = number == mark.line + 1 ? static_cast<std::size_t>(mark.column) + 1 : 0; i < line.size();
           ++i) {
        const bool escaped = quote == '"' ? line[i] == '\\' : line.compare(i, 2, "''") == 0;
        if (line[i] == quote && !escaped) return true;
        if (escaped) ++i;
      }
    }
    return false;
  }

  static std::size_t byte_offset(std::string_view line, int column) {
    std::size_t at = 0;
    for (int n = 1; n < column && at < line.size(); ++n) at += character_size(line, at);
    return at;
  }

  void check_tag(const Node& node, const std::string& tag) {
    if (documents_ > 1 || tag.empty() || tag == "?" || tag == "!") return;
    Node place = node;
    const std::string line = d_.line(node.line);
    const std::size_t found = line.rfind('!', byte_offset(line, node.column));
    if (found != std::string::npos) place = at(node.line, characters(line.substr(0, found)) + 1);
    place.width = 1;
    faults_.add(d_.fault(place, "tags are not used in these files", "remove the tag"));
  }

  void open(const YAML::Mark& mark, const std::string& tag, Node::Kind kind, YAML::EmitterStyle::value style) {
    Frame frame;
    frame.node = at(mark);
    frame.node.kind = kind;
    frame.flow = style == YAML::EmitterStyle::Flow;
    check_tag(frame.node, tag);
    stack_.push_back(std::move(frame));
  }

  void close() {
    Node node = std::move(stack_.back().node);
    stack_.pop_back();
    put(std::move(node));
  }

  void put(Node node) {
    last_line_ = node.line;
    last_column_ = node.column;
    if (stack_.empty()) {
      if (documents_ == 1) d_.root_ = std::move(node);
      return;
    }
    Frame& frame = stack_.back();
    frame.node.last_line = std::max(frame.node.last_line, node.last_line);
    if (frame.node.kind == Node::Kind::sequence) {
      frame.node.items.push_back(std::move(node));
    } else if (!frame.key) {
      frame.key = std::move(node);
    } else {
      put_entry(frame, std::move(node));
      frame.key.reset();
    }
  }

  void put_entry(Frame& frame, Node value) {
    const Node& key = *frame.key;
    if (frame.flow && value.is_null() && decimal_comma(frame.node, key)) return;
    std::optional<Fault> fault;
    if (key.is_refused()) {
      frame.node.incomplete = true;
      return;
    }
    if (key.is_null()) {
      fault = d_.fault(key, "a value without a key", "KEY: VALUE");
    } else if (!key.is_scalar()) {
      fault = d_.fault(key, "a key must be a word, not " + described(key), "KEY: VALUE");
    } else if (key.text == "<<" && !key.quoted) {
      fault = d_.fault(key, "merge keys are not used in these files", "write the entries out where they are needed");
    } else if (const Node::Entry* first = frame.node.find(key.text)) {
      fault = d_.fault(key, "the key " + in_quotes(key.text) + " stands here a second time", "keep one of the two");
      fault->others.push_back(d_.other(first->key, "the first stands here"));
    }
    if (!fault) {
      frame.node.entries.push_back({key, std::move(value)});
      return;
    }
    frame.node.incomplete = true;
    if (documents_ == 1) faults_.add(*std::move(fault));
  }

  /// In {power: 1,5 W} the comma ends the value, and what follows it looks like a key without one.
  bool decimal_comma(Node& mapping, const Node& rest) {
    if (mapping.entries.empty()) return false;
    Node& value = mapping.entries.back().value;
    const auto digit = [](char c) { return c >= '0' && c <= '9'; };
    const bool adjacent = value.line == rest.line && value.column + value.width + 1 == rest.column;
    if (!value.is_scalar() || value.quoted || !adjacent || !digit(value.text.back()) || !digit(rest.text[0]))
      return false;
    value.kind = Node::Kind::refused;
    mapping.incomplete = true;
    if (documents_ > 1) return true;
    Node whole = value;
    whole.width += 1 + rest.width;
    faults_.add(d_.fault(whole, "the decimal sign is a point, not a comma", value.text + "." + rest.text));
    return true;
  }

  bool check_characters() {
    for (int number = 1; number <= static_cast<int>(d_.lines_.size()); ++number) {
      const std::string line = d_.line(number);
      int column = 1;
      for (std::size_t i = 0; i < line.size(); ++column) {
        const std::size_t size = well_formed(line, i);
        const auto c = static_cast<unsigned char>(line[i]);
        if (size == 0) {
          faults_.add(d_.fault(at(number, column), "this is not UTF-8 text", "save the file in UTF-8"));
          return false;
        }
        if ((c < 0x20 && c != '\t') || c == 0x7F) {
          const bool text = line.find('\0') == std::string::npos;
          faults_.add(text ? d_.fault(at(number, column), "a control character stands here", "remove it")
                           : d_.fault(at(number, column), "this is not a text file", "name another file"));
          return false;
        }
        i += size;
      }
    }
    return true;
  }

  bool check_tabs() {
    bool clean = true;
    for (int number = 1; number <= static_cast<int>(d_.lines_.size()); ++number) {
      const std::string line = d_.line(number);
      const std::size_t text = line.find_first_not_of(" \t");
      const std::size_t tab = line.find('\t');
      if (tab >= text) continue;
      faults_.add(d_.fault(at(number, static_cast<int>(tab) + 1), "a tab in the indentation", "indent with blanks"));
      clean = false;
    }
    return clean;
  }

  void syntax_fault(const YAML::ParserException& e) {
    Node place = at(e.mark);
    if (e.msg == YAML::ErrorMsg::UNKNOWN_ANCHOR) return refuse_alias(place);
    if (e.msg == YAML::ErrorMsg::END_OF_MAP_FLOW || e.msg == YAML::ErrorMsg::END_OF_SEQ_FLOW) {
      const bool mapping = e.msg == YAML::ErrorMsg::END_OF_MAP_FLOW;
      const Frame* innermost = nullptr;
      for (const Frame& frame : stack_) {
        if (frame.flow) innermost = &frame;
      }
      if (innermost) place = at(innermost->node.line, innermost->node.column);
      faults_.add(d_.fault(place, std::string("not valid YAML: this '") + (mapping ? "{" : "[") + "' is not closed",
                           std::string("close it with '") + (mapping ? "}" : "]") + "', or put the missing comma"));
      return;
    }
    if (e.msg == YAML::ErrorMsg::EOF_IN_SCALAR) {
      faults_.add(d_.fault(open_quote(place), quote_message, "close it"));
      return;
    }
    const std::string_view rest = rest_of_line(e.mark);
    const Syntax syntax = explained(e.msg, rest.empty() ? ' ' : rest[0]);
    faults_.add(d_.fault(place, syntax.message, syntax.suggestion));
  }

  /// The first quote after the last scalar that was read.
  Node open_quote(const Node& fallback) const {
    for (int number = std::max(last_line_, 1); number <= static_cast<int>(d_.lines_.size()); ++number) {
      const std::string line = d_.line(number);
      const std::size_t begin = number == last_line_ ? byte_offset(line, last_column_ + 1) : 0;
      const std::size_t found = line.find_first_of("\"'", std::min(begin, line.size()));
      if (found != std::string::npos) return at(number, characters(line.substr(0, found)) + 1);
    }
    return fallback;
  }

  Document& d_;
  Faults& faults_;
  std::vector<Frame> stack_;
  static constexpr const char* quote_message = "not valid YAML: this quote is not closed";
  int documents_ = 0;
  bool unclosed_ = false;
  int last_line_ = 0, last_column_ = 0;
};

const Node::Entry* Node::find(const std::string& key) const {
  for (const Entry& entry : entries) {
    if (entry.key.text == key) return &entry;
  }
  return nullptr;
}

std::string described(const Node& node) {
  switch (node.kind) {
    case Node::Kind::sequence:
      return "a list";
    case Node::Kind::mapping:
      return "a mapping";
    case Node::Kind::scalar:
      return in_quotes(node.text);
    case Node::Kind::null:
    case Node::Kind::refused:
      break;
  }
  return "nothing";
}

std::shared_ptr<Document> Document::parse(std::string path, const std::string& text, Faults& faults) {
  auto document = std::make_shared<Document>();
  document->path_ = std::move(path);
  const std::string normal = normalised(text);
  document->lines_ = split_lines(normal);
  if (!DocumentBuilder(*document, faults).read(normal)) return nullptr;
  return document;
}

std::shared_ptr<const Document> Document::of_line(std::string path, std::string text, Node root) {
  auto document = std::make_shared<Document>();
  document->path_ = std::move(path);
  document->lines_ = {std::move(text)};
  document->is_line_ = true;
  document->root_ = std::move(root);
  return document;
}

std::string Document::line(int number) const {
  if (is_line_) return lines_.front();
  if (number < 1 || static_cast<std::size_t>(number) > lines_.size()) return {};
  return lines_[static_cast<std::size_t>(number) - 1];
}

Fault Document::fault(const Node& node, std::string message, std::string suggestion) const {
  return {place(node), std::move(message), std::move(suggestion), line(node), node.width, {}};
}

Fault Document::fault(const Node& node, std::size_t offset, std::size_t length, std::string message,
                      std::string suggestion) const {
  Fault result = fault(node, std::move(message), std::move(suggestion));
  if (node.text_column == 0 || offset > node.text.size()) return result;
  const std::string_view text = node.text;
  result.place.column = node.text_column + characters(text.substr(0, offset));
  result.width = std::max(1, characters(text.substr(offset, length)));
  return result;
}

Fault::Other Document::other(const Node& node, std::string message) const {
  return {place(node), std::move(message), line(node), node.width};
}

std::string Document::comment(const Node::Entry& entry) const {
  const std::string behind = comment_of(line(entry.value.last_line));
  return behind.empty() ? comment_of(line(entry.key.line)) : behind;
}

}  // namespace overwinter
