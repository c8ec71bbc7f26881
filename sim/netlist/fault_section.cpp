#include "sim/netlist/fault_section.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "sim/netlist/binder.hpp"
#include "sim/netlist/field_text.hpp"
#include "sim/netlist/time_text.hpp"
#include "sim/text.hpp"

namespace overwinter {
namespace {

const std::string sentence_form =
    "\"PART KIND at YYYY-MM-DD hh:mm for NUMBER d\", such as \"panel-south soiled by 60 % at 2025-01-10 06:00 for 5 "
    "d\"";
const std::string example = "{part: PART, fault: KIND, at: YYYY-MM-DD hh:mm, for: NUMBER d}";

std::vector<std::string> kinds(const std::vector<const FaultForm*>& forms) {
  std::vector<std::string> names;
  for (const FaultForm* form : forms) names.push_back(form->kind);
  return names;
}

const FaultForm* of_the_site(const std::string& kind) {
  for (const FaultForm& form : faults_of_the_site()) {
    if (form.kind == kind) return &form;
  }
  return nullptr;
}

/// One of the members, as a suggestion.
std::string choice(const std::string& word, const std::vector<std::string>& known) {
  const std::string near = suggested(word, known);
  return near.empty() ? "one of " + listed(known) : near;
}

class FaultReader {
 public:
  /// `at`: where what is missing is missed.
  FaultReader(const Document& d, const Node& mapping, const Node& at, const FaultBearers& bearers, Faults& faults)
      : d_(d), mapping_(mapping), at_(at), bearers_(bearers), faults_(faults), before_(faults.size()) {}

  std::optional<TimedFault> read() {
    const Node* kind = scalar("fault", "the fault does not say what it is",
                              "fault: " + kinds(all_faults()).front() +
                                  ", or another that `overwinter explain faults` "
                                  "lists");
    if (!kind) return std::nullopt;
    fault_.kind = kind->text;
    const FaultForm* form = of_the_site(fault_.kind);
    if (form) {
      if (const Node::Entry* part = mapping_.find("part")) {
        faults_.add(d_.fault(part->key, "a " + fault_.kind + " befalls the whole site, not a part", "remove the part"));
      }
    } else {
      form = of_a_part(*kind);
    }
    if (!form) return std::nullopt;
    read_values(*form, *kind);
    if (faults_.size() != before_) return std::nullopt;
    return fault_;
  }

 private:
  const Node* scalar(const std::string& key, const std::string& missing, const std::string& suggestion) {
    const Node::Entry* entry = mapping_.find(key);
    if (entry && entry->value.is_refused()) return nullptr;
    if (entry && entry->value.is_scalar()) return &entry->value;
    if (entry && !entry->value.is_null()) {
      faults_.add(d_.fault(entry->value, key + " must be text, not " + described(entry->value), suggestion));
    } else if (entry || !mapping_.incomplete) {
      const std::string misspelled = misspelt(key);
      faults_.add(d_.fault(entry ? entry->key : at_, missing, misspelled.empty() ? suggestion : misspelled));
    }
    return nullptr;
  }

  bool is_sentence() const { return at_.line == 0; }

  /// A key that seems to mean this one, as a suggestion.
  std::string misspelt(const std::string& key) const {
    for (const Node::Entry& e : mapping_.entries) {
      if (e.key.text != key && nearest(e.key.text, {"part", "fault", "at", "for", "by", "times", "phase"}) == key)
        return key + " in place of " + e.key.text;
    }
    return {};
  }

  const FaultForm* of_a_part(const Node& kind) {
    const std::vector<std::string> known = kinds(all_faults());
    const auto can_have_it = [&](const ScenarioPart& p) {
      return p.table && find_fault(faults_of(*p.table), fault_.kind);
    };
    const auto of_name = std::find_if(bearers_.parts.begin(), bearers_.parts.end(),
                                      [&](const ScenarioPart& p) { return p.name == fault_.kind; });
    if (!mapping_.find("part") && of_name != bearers_.parts.end()) {
      const std::string its = of_name->table ? kinds(faults_of(*of_name->table)).front() : "KIND";
      faults_.add(d_.fault(kind, "part " + in_quotes(fault_.kind) + " is given no fault",
                           is_sentence() ? fault_.kind + " " + its + " ..."
                                         : "part: " + fault_.kind + ", and the kind of fault as its fault"));
      return nullptr;
    }
    const auto fits = std::find_if(bearers_.parts.begin(), bearers_.parts.end(), can_have_it);
    const std::string some = fits == bearers_.parts.end() ? "PART" : fits->name;
    const Node* part = scalar("part", "the fault does not say which part has it",
                              is_sentence() ? some + " " + fault_.kind + " ..." : "part: " + some);
    if (!part) return nullptr;
    const auto found = std::find_if(bearers_.parts.begin(), bearers_.parts.end(),
                                    [&](const ScenarioPart& p) { return p.name == part->text; });
    if (found == bearers_.parts.end()) {
      std::vector<std::string> names;
      for (const ScenarioPart& p : bearers_.parts) names.push_back(p.name);
      if (bearers_.complete) {
        faults_.add(d_.fault(*part, "there is no part " + in_quotes(part->text), choice(part->text, names)));
      }
      return nullptr;
    }
    if (!found->table) return nullptr;
    bearer_ = &*found;
    fault_.part = found->name;
    std::vector<const FaultForm*> fitting = faults_of(*found->table);
    if (found->table->pins.size() < 2) fitting.clear();
    const FaultForm* form = find_fault(fitting, fault_.kind);
    if (form) return form;
    const bool exists = std::count(known.begin(), known.end(), fault_.kind) > 0;
    const std::vector<std::string> names = kinds(fitting);
    faults_.add(d_.fault(
        kind,
        exists ? "a part of model " + found->table->name + " cannot be given the fault " + in_quotes(fault_.kind)
               : "there is no fault " + in_quotes(fault_.kind) + " for a part of model " + found->table->name,
        exists ? "one of " + listed(names) : choice(fault_.kind, names)));
    return nullptr;
  }

  void read_values(const FaultForm& form, const Node& kind) {
    std::vector<Field> fields = form.fields;
    fields.insert(fields.end(), fault_frame_fields().begin(), fault_frame_fields().end());
    WrittenValues written;
    collect(fields, {}, "fault " + form.kind, d_, mapping_, written, faults_);
    bind_fields(form.fields, written, &fault_.values, faults_);
    FaultFrame frame;
    bind_fields(fault_frame_fields(), written, &frame, faults_);
    const std::vector<const Field*> missing = missing_fields(form.fields, written);
    if (!missing.empty() && !mapping_.incomplete) {
      std::vector<std::string> keys;
      for (const Field* field : missing) keys.push_back(field->key);
      faults_.add(d_.fault(kind, "fault " + form.kind + " lacks " + listed(keys), how_to_write(missing)));
    }
    if (const auto at = written.find("at"); at != written.end() && at->second.entry->value.is_scalar()) {
      read_begin(at->second.entry->value);
    }
    if (frame.lasts) {
      const double seconds = frame.lasts->si();
      fault_.end = fault_.begin + std::max<Tick>(1, std::llround(seconds * static_cast<double>(ticks_per_second)));
    }
    if (faults_.size() != before_ || !form.check || !bearer_ || !bearer_->parameters) return;
    if (const auto finding = form.check(bearer_->parameters.get(), fault_.values)) {
      const auto place = written.find(finding->field);
      faults_.add(d_.fault(place == written.end() ? kind : place->second.entry->value,
                           fault_.part + ": " + finding->message, finding->suggestion));
    }
  }

  void read_begin(const Node& at) {
    const std::string day = bearers_.span ? iso(bearers_.span->from) : "YYYY-MM-DD";
    const std::optional<ClockTime> time = TimeForm().read(at.text);
    if (!time) {
      faults_.add(d_.fault(at, "at must be a time written YYYY-MM-DD hh:mm that exists, not " + in_quotes(at.text),
                           "at: " + day + " 06:00"));
      return;
    }
    if (time->offset) {
      faults_.add(
          d_.fault(at, "at is in the site's standard time and takes no other", "at: " + clock_text(time->local)));
      return;
    }
    if (!bearers_.span) return;
    const Tick first = days_since_epoch(bearers_.span->from) * ticks_per_day;
    const Tick behind = (days_since_epoch(bearers_.span->to) + 1) * ticks_per_day;
    if (time->local < first || time->local >= behind) {
      faults_.add(d_.fault(at,
                           clock_text(time->local) + " is outside the span, which goes from " + day + " to " +
                               iso(bearers_.span->to) + ", both included",
                           "at: " + day + " 00:00, or another time inside"));
      return;
    }
    fault_.begin = time->local - first;
  }

  const Document& d_;
  const Node &mapping_, &at_;
  const FaultBearers& bearers_;
  Faults& faults_;
  const std::size_t before_;
  const ScenarioPart* bearer_ = nullptr;
  TimedFault fault_;
};

/// A sentence as the mapping that it stands for.
class Sentence {
 public:
  Sentence(std::string path, std::string text, Faults& faults)
      : path_(std::move(path)), text_(std::move(text)), faults_(faults) {}

  /// Null, and a fault, where it is none.
  std::shared_ptr<const Document> read() {
    split();
    Node root;
    root.kind = Node::Kind::mapping;
    root.column = 1;
    std::size_t first = 0;
    while (first < words_.size() && !is_key(first)) ++first;
    if (first == 0) {
      fail(words_.empty() ? std::pair(text_.size(), text_.size()) : words_[0],
           words_.empty() ? "the fault is empty" : "the fault does not begin with a part and what befalls it");
      return nullptr;
    }
    std::size_t kind = first - 1;
    while (kind > 0 && !form_of(kind)) --kind;
    if (const FaultForm* form = form_of(kind); form && kind + 1 < first) {
      const Word extra{words_[kind + 1].first, words_[first - 1].second};
      const std::string said = text_.substr(extra.first, extra.second - extra.first);
      fail(extra, in_quotes(said) + " stands behind " + form->kind + " without a key",
           form->fields.empty() ? "remove it" : form->kind + " " + form->fields.front().key + " " + said);
      return nullptr;
    }
    if (first > 1) root.entries.push_back({node(words_[0], "part"), text_of(0, first - 1)});
    root.entries.push_back({node(words_[first - 1], "fault"), text_of(first - 1, first)});
    for (std::size_t at = first; at < words_.size();) {
      std::size_t end = at + 1;
      while (end < words_.size() && !is_key(end)) ++end;
      Node key = text_of(at, at + 1);
      key.text = key_at(at);
      if (root.find(key.text)) {
        fail(words_[at], key.text + " is given twice", "keep one of the two");
        return nullptr;
      }
      Node value;
      if (end > at + 1) value = text_of(at + 1, end);
      root.entries.push_back({std::move(key), std::move(value)});
      at = end;
    }
    return Document::of_line(path_, text_, std::move(root));
  }

 private:
  using Word = std::pair<std::size_t, std::size_t>;  // begin and end in the text

  void split() {
    for (std::size_t at = 0; at < text_.size();) {
      const std::size_t begin = text_.find_first_not_of(" \t\n", at);
      if (begin == std::string::npos) break;
      const std::size_t end = std::min(text_.find_first_of(" \t\n", begin), text_.size());
      words_.emplace_back(begin, end);
      at = end;
    }
  }

  std::string word(std::size_t i) const { return text_.substr(words_[i].first, words_[i].second - words_[i].first); }

  /// A key may have a colon behind it, as suggestions have it.
  std::string key_at(std::size_t i) const {
    const std::string text = word(i);
    return text.back() == ':' ? text.substr(0, text.size() - 1) : text;
  }
  bool is_key(std::size_t i) const {
    static const std::vector<std::string> keys = {"at", "for", "by", "times", "phase"};
    return std::count(keys.begin(), keys.end(), key_at(i)) > 0;
  }
  const FaultForm* form_of(std::size_t i) const { return find_fault(all_faults(), word(i)); }

  Node node(Word place, std::string text) const {
    Node n;
    n.kind = Node::Kind::scalar;
    n.text = std::move(text);
    n.column = n.text_column = 1 + characters(std::string_view(text_).substr(0, place.first));
    n.width = std::max(1, characters(std::string_view(text_).substr(place.first, place.second - place.first)));
    return n;
  }

  Node text_of(std::size_t from, std::size_t to) const {
    const Word all{words_[from].first, words_[to - 1].second};
    return node(all, text_.substr(all.first, all.second - all.first));
  }

  void fail(Word place, std::string message, std::string suggestion = sentence_form) {
    const Node n = node(place, "");
    faults_.add({{path_, 0, n.column}, std::move(message), std::move(suggestion), text_, n.width, {}});
  }

  const std::string path_, text_;
  Faults& faults_;
  std::vector<Word> words_;
};

}  // namespace

const std::vector<Field>& fault_frame_fields() {
  static const std::vector<Field> fields = [] {
    FieldsBuilder<FaultFrame> t("fault", "");
    t.text("part", &FaultFrame::part).meaning("the part that has it; none for a fault of the site");
    t.text("fault", &FaultFrame::fault).meaning("what it is");
    t.text("at", &FaultFrame::at)
        .meaning("when it begins, YYYY-MM-DD hh:mm in the site's standard time; from the span's begin if left out");
    t.scalar("for", &FaultFrame::lasts, "d")
        .above(0)
        .at_most(1e5 * 86400)
        .meaning("how long it lasts; to the span's end if left out");
    return t.done().fields;
  }();
  return fields;
}

std::vector<TimedFault> read_faults(const Document& d, const Node& list, const FaultBearers& bearers, Faults& faults) {
  std::vector<TimedFault> result;
  for (const Node& item : list.items) {
    if (item.is_refused()) continue;
    if (!item.is_mapping()) {
      faults.add(d.fault(item, "a fault must be a mapping, not " + described(item), example));
      continue;
    }
    if (auto fault = FaultReader(d, item, item, bearers, faults).read()) result.push_back(*std::move(fault));
  }
  return result;
}

void add_faults(Scenario& scenario, const std::vector<std::string>& sentences) {
  Faults faults;
  const FaultBearers bearers{scenario.parts, true, DaySpan{scenario.from, scenario.to}};
  for (const std::string& sentence : sentences) {
    const auto document = Sentence("--fault", sentence, faults).read();
    if (!document) continue;
    const Node& root = document->root();
    if (auto fault = FaultReader(*document, root, root, bearers, faults).read()) {
      scenario.faults.push_back(*std::move(fault));
    }
  }
  faults.raise_if_any("--fault");
}

}  // namespace overwinter
