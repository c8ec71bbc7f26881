// Reads a four-state VCD file by the grammar of IEEE Std 1364-2005, syntax 18-1 and 18-2, and refuses anything else.
#pragma once

#include <algorithm>
#include <cstdint>
#include <map>
#include <regex>
#include <set>
#include <sstream>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace overwinter::test {

struct VcdVariable {
  std::string type;
  int size = 0;
  std::vector<std::pair<std::int64_t, double>> changes;  ///< in the timescale's unit; the first is that of $dumpvars
};

struct Vcd {
  std::string version, timescale;
  std::vector<std::string> comments;
  std::map<std::string, VcdVariable> variables;  ///< by scope and name, "net.rail_V"
  std::int64_t first = -1, last = -1;            ///< times
};

class VcdReader {
 public:
  explicit VcdReader(const std::string& text) : tokens_(text) {}

  Vcd read() {
    while (declaration()) {
    }
    require(scope_.empty(), "a scope without its end");
    while (tokens_ >> token_) simulation();
    return std::move(vcd_);
  }

 private:
  static void require(bool fits, const std::string& what) {
    if (!fits) throw std::runtime_error("VCD: " + what);
  }
  std::string next() {
    require(static_cast<bool>(tokens_ >> token_), "it ends too early");
    return token_;
  }
  void end() { require(next() == "$end", "no $end but " + token_); }
  std::string text() {
    std::string all;
    while (next() != "$end") all += (all.empty() ? "" : " ") + token_;
    return all;
  }
  static bool is_in(const std::string& word, const std::set<std::string>& words) { return words.count(word) > 0; }

  bool declaration() {
    const std::string keyword = next();
    if (keyword == "$comment") {
      vcd_.comments.push_back(text());
    } else if (keyword == "$date") {
      text();
    } else if (keyword == "$version") {
      vcd_.version = text();
    } else if (keyword == "$timescale") {
      vcd_.timescale = text();
      require(std::regex_match(vcd_.timescale, std::regex("(1|10|100) ?(s|ms|us|ns|ps|fs)")), vcd_.timescale);
    } else if (keyword == "$scope") {
      require(is_in(next(), {"begin", "fork", "function", "module", "task"}), "scope type " + token_);
      scope_.push_back(identifier(next()));
      end();
    } else if (keyword == "$upscope") {
      require(!scope_.empty(), "more ends than scopes");
      scope_.pop_back();
      end();
    } else if (keyword == "$var") {
      variable();
    } else {
      require(keyword == "$enddefinitions", "declaration " + keyword);
      end();
      return false;
    }
    return true;
  }

  static std::string identifier(const std::string& word) {
    require(std::regex_match(word, std::regex("[A-Za-z_][A-Za-z0-9_$]*")), "identifier " + word);
    return word;
  }

  void variable() {
    VcdVariable v;
    v.type = next();
    require(is_in(v.type, {"event", "integer", "parameter", "real", "realtime", "reg", "supply0", "supply1", "time",
                           "tri", "triand", "trior", "trireg", "tri0", "tri1", "wand", "wire", "wor"}),
            "variable type " + v.type);
    v.size = std::stoi(next());
    const std::string code = next();
    require(std::all_of(code.begin(), code.end(), [](char c) { return c >= '!' && c <= '~'; }), "code " + code);
    std::string name;
    for (const std::string& scope : scope_) name += scope + ".";
    name += identifier(next());
    end();
    require(vcd_.variables.insert({name, v}).second, name + " twice");
    require(names_.insert({code, name}).second, "code " + code + " twice");
  }

  void simulation() {
    if (token_ == "$comment") {
      text();
    } else if (is_in(token_, {"$dumpall", "$dumpoff", "$dumpon", "$dumpvars"})) {
      while (next() != "$end") change();
    } else if (token_[0] == '#') {
      const std::int64_t time = std::stoll(token_.substr(1));
      require(time > vcd_.last, "time " + token_ + " does not come later");
      vcd_.last = time;
      if (vcd_.first < 0) vcd_.first = time;
    } else {
      change();
    }
  }

  void change() {
    require(vcd_.last >= 0, "a change before any time");
    const std::string value = token_;
    const bool scalar = value[0] == '0' || value[0] == '1';
    const std::string code = scalar ? value.substr(1) : next();
    const auto name = names_.find(code);
    require(name != names_.end(), "change of unknown code " + code);
    VcdVariable& v = vcd_.variables.at(name->second);
    double number = 0;
    if (scalar) {
      require(v.size == 1 && v.type != "real", "a scalar for " + name->second);
      number = value[0] - '0';
    } else if (value[0] == 'r') {
      require(v.type == "real", "a real for " + name->second);
      require(std::regex_match(value, std::regex("r-?[0-9]+([.][0-9]+)?(e[-+][0-9]+)?")), value);
      number = std::stod(value.substr(1));
    } else {
      require(std::regex_match(value, std::regex("b[01]+")) && v.size > 1, value + " for " + name->second);
      number = static_cast<double>(std::stoull(value.substr(1), nullptr, 2));
    }
    v.changes.push_back({vcd_.last, number});
  }

  std::istringstream tokens_;
  std::string token_;
  Vcd vcd_;
  std::vector<std::string> scope_;
  std::map<std::string, std::string> names_;
};

inline Vcd read_vcd(const std::string& text) { return VcdReader(text).read(); }

}  // namespace overwinter::test
