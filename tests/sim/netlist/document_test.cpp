#include "sim/netlist/document.hpp"

#include <doctest/doctest.h>

using namespace overwinter;

namespace {

/// The faults of a text, each as "line:column message".
std::vector<std::string> faults_of(const std::string& text) {
  Faults faults;
  Document::parse("a.yaml", text, faults);
  std::vector<std::string> result;
  for (const Fault& f : faults.all()) {
    result.push_back(std::to_string(f.place.line) + ":" + std::to_string(f.place.column) + " " + f.message);
  }
  return result;
}

std::shared_ptr<const Document> good(const std::string& text) {
  Faults faults;
  auto document = Document::parse("a.yaml", text, faults);
  if (!faults.empty()) FAIL(faults.all().front().message);
  return document;
}

using Lines = std::vector<std::string>;

}  // namespace

TEST_CASE("nodes know their kind, text and place") {
  const auto d = good("a: b c\nlist: [x, {y: 1}]\n\"quoted key\": 'it''s'\n");
  const Node& root = d->root();
  REQUIRE(root.entries.size() == 3);
  const Node& text = root.find("a")->value;
  CHECK(text.text == "b c");
  CHECK(d->place(text).line == 1);
  CHECK(d->place(text).column == 4);
  CHECK(text.width == 3);
  const Node& list = root.find("list")->value;
  REQUIRE(list.is_sequence());
  CHECK(d->place(list).column == 7);
  CHECK(d->place(list.items[1].find("y")->value).column == 15);
  const Node::Entry& quoted = *root.find("quoted key");
  CHECK(quoted.key.quoted);
  CHECK(quoted.value.text == "it's");
  CHECK_FALSE(text.quoted);
}

TEST_CASE("columns count characters") {
  const auto d = good("größe: {β: 1, γ: 2}\n");
  const Node& map = d->root().find("größe")->value;
  CHECK(map.column == 8);
  CHECK(map.find("γ")->key.column == 15);
  CHECK(map.find("γ")->value.column == 18);
}

TEST_CASE("a fault inside a text stands at its bytes") {
  const auto d = good("a: 10 µΩ x\nb: \"10 µΩ x\"\nc: \"10\\tx\"\n");
  const auto column = [&](const char* key, std::size_t offset, std::size_t length) {
    const Fault fault = d->fault(d->root().find(key)->value, offset, length, "m");
    return std::pair(fault.place.column, fault.width);
  };
  CHECK(column("a", 8, 1) == std::pair(10, 1));
  CHECK(column("a", 3, 4) == std::pair(7, 2));
  CHECK(column("b", 8, 1) == std::pair(11, 1));
  CHECK(column("c", 3, 1) == std::pair(4, 7));  // escapes: the whole text
}

TEST_CASE("empty values stand at their key or dash, not at the next token") {
  const auto d =
      good("a:\n\n# remark\nb: ~\nc: null\nlist:\n  -  # nothing - yet\n\n  - 3\nnull-like:\nnullable: 1\nlast:\n");
  const auto place = [&](const Node& node) { return std::pair(node.line, node.column); };
  const Node& root = d->root();
  for (const char* key : {"a", "b", "c", "null-like", "last"}) CHECK(root.find(key)->value.is_null());
  CHECK(place(root.find("a")->value) == std::pair(1, 1));
  CHECK(place(root.find("b")->value) == std::pair(4, 4));
  CHECK(place(root.find("c")->value) == std::pair(5, 4));
  CHECK(root.find("c")->value.width == 4);
  CHECK(place(root.find("list")->value.items[0]) == std::pair(7, 3));
  CHECK(place(root.find("null-like")->value) == std::pair(10, 1));
  CHECK(root.find("nullable")->value.text == "1");
  CHECK(place(root.find("last")->value) == std::pair(12, 1));
}

TEST_CASE("quoted nulls and numbers are texts") {
  const auto d = good("a: \"~\"\nb: 'null'\nc: 012\nd: .nan\n");
  CHECK(d->root().find("a")->value.text == "~");
  CHECK(d->root().find("b")->value.text == "null");
  CHECK(d->root().find("c")->value.text == "012");
  CHECK(d->root().find("d")->value.text == ".nan");
}

TEST_CASE("byte-order mark and Windows line ends") {
  const auto d = good(
      "\xEF\xBB\xBF"
      "a: 1\r\nb: 2\r\n");
  CHECK(d->root().find("a")->value.column == 4);
  CHECK(d->root().find("b")->value.text == "2");
  CHECK(d->root().find("b")->key.line == 2);
}

TEST_CASE("duplicate keys name both places, and the rest is still read") {
  Faults faults;
  const auto d = Document::parse("a.yaml", "a: 1\nb: {c: 1, d: 2, c: 3}\na: 2\n", faults);
  REQUIRE(faults.size() == 2);
  CHECK(faults.all()[0].place.line == 2);
  CHECK(faults.all()[0].place.column == 17);
  CHECK(faults.all()[0].others.at(0).place.column == 5);
  CHECK(faults.all()[1].others.at(0).place.line == 1);
  REQUIRE(static_cast<bool>(d));
  CHECK(d->root().incomplete);
  CHECK(d->root().find("a")->value.text == "1");
}

TEST_CASE("refused parts of YAML") {
  CHECK(faults_of("a: &x 1\nb: *x\n") ==
        Lines{"1:4 anchors are not used in these files", "2:4 aliases are not used in these files"});
  CHECK(faults_of("a: *nowhere\n") == Lines{"1:4 aliases are not used in these files"});
  CHECK(faults_of("a: {<<: {b: 1}}\n") == Lines{"1:5 merge keys are not used in these files"});
  CHECK(faults_of("a: !!str 1\nb: !own {c: 1}\n") ==
        Lines{"1:4 tags are not used in these files", "2:4 tags are not used in these files"});
  CHECK(faults_of("a: 1\n---\nb: 2\n---\nc: 3\n") == Lines{"2:1 a second document begins here; a file holds one"});
  CHECK(faults_of("a: 1\n...\nb: [\n") == Lines{"3:1 a second document begins here; a file holds one"});
  CHECK(faults_of("? [a, b]\n: 1\n") == Lines{"1:3 a key must be a word, not a list"});
  CHECK(faults_of(": 1\n") == Lines{"1:1 a value without a key"});
  SUBCASE("a quoted << is a key like any other") { CHECK(faults_of("a: {\"<<\": 1}\n").empty()); }
  SUBCASE("one leading document mark is none too many") { CHECK(faults_of("---\na: 1\n").empty()); }
}

TEST_CASE("the top is a mapping") {
  CHECK(faults_of("- 1\n- 2\n") == Lines{"1:1 the file must be a mapping of keys to values, not a list"});
  CHECK(faults_of("a:1\n") == Lines{"1:1 the file must be a mapping of keys to values, not 'a:1'"});
  CHECK(faults_of("~\n") == Lines{"1:1 the file must be a mapping of keys to values, not nothing"});
  CHECK(faults_of("") == Lines{"1:1 the file is empty"});
  CHECK(faults_of("# only a remark\n\n") == Lines{"1:1 the file is empty"});
}

TEST_CASE("syntax errors stand where they are") {
  CHECK(faults_of("a: b: c\n") == Lines{"1:5 not valid YAML: no value can begin at this ':'"});
  CHECK(faults_of("ä: ö: c\n") == Lines{"1:5 not valid YAML: no value can begin at this ':'"});
  CHECK(faults_of("a: [1, {b: 2}\nc: 3\n") == Lines{"1:4 not valid YAML: this '[' is not closed"});
  CHECK(faults_of("a: [1, {b: 2, c: 3\n") == Lines{"1:8 not valid YAML: this '{' is not closed"});
  CHECK(faults_of("a: 1]\nb: ]\n") == Lines{"2:4 not valid YAML: this bracket closes nothing"});
  CHECK(faults_of("a: 1\nb: @x\n") == Lines{"2:4 not valid YAML: a value cannot begin with '@'"});
  CHECK(faults_of("a: 'x\nb: 3\n") == Lines{"1:4 not valid YAML: this quote is not closed"});
  CHECK(faults_of("a: 'x\nb: 3") == Lines{"1:4 not valid YAML: this quote is not closed"});
  CHECK(faults_of("a: \"x \\\" y\n") == Lines{"1:4 not valid YAML: this quote is not closed"});
  CHECK(faults_of("a: \"x \\\n  y\"\nb: 'it''s\n  long'\n").empty());
  CHECK(faults_of("a: 1\n  b: 2\n").size() == 1);
  CHECK(faults_of("a:\n- 1\n b: 2\n").size() == 1);
}

TEST_CASE("tabs, control characters and other encodings") {
  CHECK(faults_of("a:\n\tb: 1\n  \tc: 1\n") == Lines{"2:1 a tab in the indentation", "3:3 a tab in the indentation"});
  CHECK(faults_of("a: 1\n\t# remark\n \t\nb: 1\n") ==
        Lines{"2:1 a tab in the indentation", "3:2 a tab in the indentation"});
  CHECK(faults_of("a:\t1\t# remark\nb: [1,\t2]\t\n").empty());
  CHECK(faults_of("a: x\x1By\n") == Lines{"1:5 a control character stands here"});
  CHECK(faults_of("a: é\nb: \xE9t\xE9\n") == Lines{"2:4 this is not UTF-8 text"});
  CHECK(faults_of("a: \xC0\xAF\n") == Lines{"1:4 this is not UTF-8 text"});
  CHECK(faults_of("a: \xED\xA0\x80\n") == Lines{"1:4 this is not UTF-8 text"});
  CHECK(faults_of("a: \xF4\x90\x80\x80\n") == Lines{"1:4 this is not UTF-8 text"});
  CHECK(faults_of("a: \xE2\x82") == Lines{"1:4 this is not UTF-8 text"});
  CHECK(faults_of(std::string("a: \0b\n", 6)) == Lines{"1:4 this is not a text file"});
  CHECK(faults_of("\xFF\xFE"
                  "a\0") == Lines{"1:1 this is not UTF-8 text"});
}

TEST_CASE("very deep nesting is refused, not followed") {
  CHECK(faults_of("a: " + std::string(100000, '[')).size() == 1);
}

TEST_CASE("comments behind a value") {
  const auto d = good(
      "a: 1 mA   # front page\nb: \"#1\"  # second\nc: it's #3 # third\nd:  # at the key\n  e: 1\n  f: 2\ng:\n  h: 1  "
      "# last\ni: x#y\n");
  const auto comment = [&](const char* key) { return d->comment(*d->root().find(key)); };
  CHECK(comment("a") == "front page");
  CHECK(comment("b") == "second");
  CHECK(comment("c") == "3 # third");
  CHECK(comment("d") == "at the key");
  CHECK(comment("g") == "last");
  CHECK(comment("i") == "");
}

TEST_CASE("faults are sorted by file and place, without repetition") {
  Faults faults;
  const auto at = [](const char* file, int line, int column) {
    return Fault{{file, line, column}, "m", "", "", 1, {}};
  };
  faults.add(at("b", 1, 1));
  faults.add(at("main", 9, 2));
  faults.add(at("a", 2, 1));
  faults.add(at("main", 9, 1));
  faults.add(at("main", 9, 2));
  try {
    faults.raise_if_any("main");
    FAIL("nothing was thrown");
  } catch (const InputError& error) {
    CHECK(std::string(error.what()) == "main:9:1: m\n\nmain:9:2: m\n\na:2:1: m\n\nb:1:1: m");
  }
  Faults none;
  CHECK_NOTHROW(none.raise_if_any("main"));
}
