#include "sim/zoom/vcd.hpp"

#include <fmt/format.h>

#include <cctype>
#include <iterator>
#include <map>
#include <set>
#include <utility>

#include "sim/engine/simulator.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {

/// The n-th identifier code: printable ASCII, ! to ~, no longer than it need be.
std::string code_of(std::size_t n) {
  constexpr std::size_t first = '!', codes = '~' - '!' + 1;
  std::string code(1, static_cast<char>(first + n % codes));
  while (n /= codes) code += static_cast<char>(first + n % codes);
  return code;
}

/// One line of ASCII that cannot end the comment it stands in.
std::string for_comment(const std::string& text) {
  std::string line;
  for (std::size_t at = 0; at < text.size(); at += character_size(text, at)) {
    const bool printable = text[at] >= ' ' && text[at] <= '~';
    line += !printable ? '?' : text[at] == '$' ? '_' : text[at];
  }
  return line;
}

std::string comment(const std::string& text) { return "$comment " + for_comment(text) + " $end\n"; }

struct Variable {
  std::string type;
  int size;
  std::string code, name, note;
};

struct Scope {
  std::string group, name;
  std::set<std::string> taken;
  std::vector<Variable> variables;
};

/// `name`, or the first of name_2, name_3, ... that is not taken.
std::string distinct(const std::string& name, std::set<std::string>& taken) {
  std::string chosen = name;
  for (int n = 2; !taken.insert(chosen).second; ++n) chosen = fmt::format("{}_{}", name, n);
  return chosen;
}

class Dump {
 public:
  explicit Dump(const Waveforms& w) : w_(w), codes_(w.signals.size()), last_(w.signals.size()) {
    for (std::size_t i = 0; i < w.signals.size(); ++i) codes_[i] = declare(w.signals[i]);
    for (const Mark& mark : w.marks) {
      std::string& code = events_[{mark.part, mark.event}];
      if (code.empty()) code = add(mark.group(), "event", 1, mark.event, "", mark.meaning);
    }
  }

  std::string text(const std::string& file) {
    definitions(file);
    time(w_.times.front());
    put("$dumpvars\n");
    row(0);
    put("$end\n");
    std::size_t mark = 0;
    for (std::size_t r = 0; r < w_.times.size(); ++r) {
      for (; mark < w_.marks.size() && w_.marks[mark].time < w_.times[r]; ++mark) event(w_.marks[mark]);
      if (r > 0) row(r);
      for (; mark < w_.marks.size() && w_.marks[mark].time == w_.times[r]; ++mark) event(w_.marks[mark]);
    }
    time(w_.times.back());
    return fmt::to_string(out_);
  }

 private:
  std::string declare(const Signal& s) {
    switch (s.kind) {
      case Signal::Kind::logic:
        return add(s.group, "wire", 1, s.name, "", "");
      case Signal::Kind::regime: {
        std::string note = s.meaning + ":";
        for (std::size_t i = 0; i < s.labels.size(); ++i) note += fmt::format("{} {} {}", i ? "," : "", i, s.labels[i]);
        return add(s.group, "integer", 32, s.name, "", note);
      }
      default: {
        const bool plain = s.unit.text == "1";
        return add(s.group, "real", 64, s.name, plain ? "" : s.unit.text, s.meaning);
      }
    }
  }

  std::string add(const std::string& group, const char* type, int size, const std::string& name,
                  const std::string& unit, const std::string& meaning) {
    const auto [place, is_new] = scope_of_.insert({group, scopes_.size()});
    if (is_new) scopes_.push_back({group, distinct(vcd_identifier(group), scope_names_), {}, {}});
    Scope& scope = scopes_[place->second];
    const std::string identifier = vcd_identifier(name + (unit.empty() ? "" : "_" + unit));
    const std::string code = code_of(variables_++);
    const std::string note = group + "." + name + (unit.empty() ? "" : " [" + unit + "]");
    scope.variables.push_back(
        {type, size, code, distinct(identifier, scope.taken), note + (meaning.empty() ? "" : ": " + meaning)});
    return code;
  }

  void definitions(const std::string& file) {
    put(fmt::format("$version overwinter {} $dumpfile(\"{}\") $end\n", OVERWINTER_VERSION, file));
    put("$timescale 1 ns $end\n");
    put(comment(w_.title + (w_.occasion.empty() ? "" : ": " + w_.occasion)));
    put(comment(fmt::format("time 0 is {}; the moment, {}, is at time {}", iso_time(w_.times.front(), 9),
                            iso_time(w_.moment, 9), w_.moment - w_.times.front())));
    for (const Scope& scope : scopes_) {
      put("$scope module " + scope.name + " $end\n");
      for (const Variable& v : scope.variables) {
        put(comment(v.note));
        put(fmt::format("$var {} {} {} {} $end\n", v.type, v.size, v.code, v.name));
      }
      put("$upscope $end\n");
    }
    put("$enddefinitions $end\n");
  }

  void row(std::size_t r) {
    for (std::size_t s = 0; s < w_.signals.size(); ++s) {
      if (r > 0 && w_.value(r, s) == w_.value(r - 1, s)) continue;
      const double value = written_value(w_.value(r, s), w_.signals[s]);
      if (r > 0 && value == last_[s]) continue;
      last_[s] = value;
      time(w_.times[r]);
      change(w_.signals[s].kind, value, codes_[s]);
    }
  }

  void change(Signal::Kind kind, double value, const std::string& code) {
    const auto to = std::back_inserter(out_);
    if (kind == Signal::Kind::logic) {
      fmt::format_to(to, "{:.0f}{}\n", value, code);
    } else if (kind == Signal::Kind::regime) {
      fmt::format_to(to, "b{:b} {}\n", static_cast<unsigned>(value), code);
    } else {
      fmt::format_to(to, "r{:.16g} {}\n", value, code);
    }
  }

  /// Once a tick, however many rounds it had.
  void event(const Mark& mark) {
    time(mark.time);
    if (const std::string& code = events_.at({mark.part, mark.event}); happened_.insert(code).second) {
      put("1" + code + "\n");
    }
  }

  void time(Tick t) {
    if (t == now_) return;
    now_ = t;
    happened_.clear();
    fmt::format_to(std::back_inserter(out_), "#{}\n", t - w_.times.front());
  }

  void put(const std::string& text) { out_.append(text.data(), text.data() + text.size()); }

  const Waveforms& w_;
  std::vector<Scope> scopes_;
  std::map<std::string, std::size_t> scope_of_;
  std::set<std::string> scope_names_;
  std::size_t variables_ = 0;
  std::vector<std::string> codes_;
  std::map<std::pair<std::string, std::string>, std::string> events_;
  std::vector<double> last_;
  std::set<std::string> happened_;
  Tick now_ = never;
  fmt::memory_buffer out_;
};

}  // namespace

std::string vcd_identifier(const std::string& text) {
  std::string identifier;
  for (std::size_t at = 0; at < text.size(); at += character_size(text, at)) {
    const char c = text[at];
    if (c == '+') {
      identifier += "_plus";
    } else if (c == '%') {
      identifier += "percent";
    } else if (c == '/') {
      identifier += "_per_";
    } else {
      identifier += std::isalnum(static_cast<unsigned char>(c)) ? c : '_';
    }
  }
  const bool sound = !identifier.empty() && !std::isdigit(static_cast<unsigned char>(identifier.front()));
  return sound ? identifier : "_" + identifier;
}

std::string vcd_text(const Waveforms& w, const std::string& file) {
  require_sound(w);
  return Dump(w).text(file);
}

}  // namespace overwinter
