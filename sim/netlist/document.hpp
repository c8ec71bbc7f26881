// A strict YAML document that knows where everything stands.
//
// The accepted subset: one document, a mapping at the top, block or flow mappings and sequences, plain and quoted
// scalars. Refused, each with its place: duplicate keys, anchors, aliases, merge keys, tags, further documents, keys
// that are not scalars, tabs in the indentation, control characters and text that is not UTF-8.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "sim/netlist/faults.hpp"

namespace overwinter {

/// What was given on the command line in place of something in the file.
struct GivenText {
  std::string option;  ///< how messages name it
  std::string text;    ///< a node's columns count in it
};

/// Lines and columns count from 1, columns in characters.
struct Node {
  enum class Kind {
    null,  ///< nothing, ~ or null
    scalar,
    sequence,
    mapping,
    refused,  ///< a fault was reported for it; readers pass over it in silence
  };
  struct Entry;

  Kind kind = Kind::null;
  int line = 0;
  int column = 0;
  int width = 1;
  int last_line = 0;  ///< where the last of its scalars begins
  std::string text;   ///< of a scalar
  bool quoted = false;
  int text_column = 0;      ///< of the first character of `text`; 0 if the source spells the text otherwise
  bool incomplete = false;  ///< a mapping that lost an entry to a fault
  std::shared_ptr<const GivenText> given = {};  ///< null: it stands in the file
  std::vector<Node> items;
  std::vector<Entry> entries;

  bool is_null() const { return kind == Kind::null; }
  bool is_scalar() const { return kind == Kind::scalar; }
  bool is_sequence() const { return kind == Kind::sequence; }
  bool is_mapping() const { return kind == Kind::mapping; }
  bool is_refused() const { return kind == Kind::refused; }
  /// The entry of a mapping, or null.
  const Entry* find(const std::string& key) const;
};

struct Node::Entry {
  Node key, value;
};

/// "nothing", "a list", "a mapping" or the text itself in quotes, for messages about what stands there instead.
std::string described(const Node&);

class Document {
 public:
  /// Null if the text is not YAML or its top is not a mapping. `path` is how messages name the file.
  static std::shared_ptr<Document> parse(std::string path, const std::string& text, Faults&);

  /// A line that is not YAML, such as an option's text, with what it was understood to say. Its nodes have columns and
  /// no line; messages name it `path`.
  static std::shared_ptr<const Document> of_line(std::string path, std::string text, Node root);

  const std::string& path() const { return path_; }
  const Node& root() const { return root_; }
  Node& root() { return root_; }

  Place place(const Node& node) const {
    return node.given ? Place{node.given->option, 0, node.column} : Place{path_, node.line, node.column};
  }
  Fault fault(const Node&, std::string message, std::string suggestion = {}) const;
  /// A fault about some bytes of a scalar's text.
  Fault fault(const Node&, std::size_t offset, std::size_t length, std::string message,
              std::string suggestion = {}) const;
  Fault::Other other(const Node&, std::string message) const;
  /// The comment behind an entry: on the line where its value ends, or else on the line of its key.
  std::string comment(const Node::Entry&) const;

 private:
  friend class DocumentBuilder;
  std::string line(int number) const;
  std::string line(const Node& node) const { return node.given ? node.given->text : line(node.line); }

  std::string path_;
  std::vector<std::string> lines_;
  bool is_line_ = false;
  Node root_;
};

}  // namespace overwinter
