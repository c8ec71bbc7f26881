#include "sim/mechanisms/mechanism_log.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <stdexcept>

#include "sim/mechanisms/mechanisms.hpp"
#include "sim/mechanisms/themes.hpp"
#include "sim/text.hpp"

namespace overwinter {

namespace {
constexpr double accounts_for = 0.5;                  // of what the cell has lost
constexpr Tick same_moment = ticks_per_second / 100;  // of a mechanism and of the brown-out it is behind
}  // namespace

MechanismRecord* MechanismBook::find(const std::string& id, const std::string& part) {
  const auto found = records_.find({rank_of_mechanism(id), part});
  return found == records_.end() ? nullptr : &found->second;
}

const MechanismRecord* MechanismBook::find(const std::string& id, const std::string& part) const {
  const auto found = records_.find({rank_of_mechanism(id), part});
  return found == records_.end() ? nullptr : &found->second;
}

MechanismRecord& MechanismBook::open(const std::string& id, const std::string& part, Tick at, Words words) {
  return records_[{rank_of_mechanism(id), part}] = {
             id, part, 0, "event", at, at, std::move(words.text), std::move(words.facts)};
}

std::vector<const MechanismRecord*> MechanismBook::all() const {
  std::vector<const MechanismRecord*> all;
  for (const auto& [place, record] : records_) all.push_back(&record);
  return all;
}

MechanismLog::MechanismLog(const Scenario& scenario, const Diagram& diagram, const Weather& weather, RunWatcher* told)
    : diagram_(diagram),
      instrument_(scenario, diagram),
      told_(told),
      next_(weather.begin()),
      midnight_(weather.begin() + ticks_per_day) {
  detectors_.push_back(detect_converters(instrument_, book_));
  detectors_.push_back(detect_inrush(instrument_, book_));
  detectors_.push_back(detect_trips(instrument_, book_));
  detectors_.push_back(detect_wake_chain(instrument_, book_));
  detectors_.push_back(detect_back_feed(instrument_, book_));
  detectors_.push_back(detect_half_states(instrument_, book_));
  detectors_.push_back(detect_loops(instrument_, book_));
  detectors_.push_back(detect_path_drop(instrument_, book_));
  detectors_.push_back(detect_refused_charge(instrument_, book_, weather.begin()));
  detectors_.push_back(detect_floor(instrument_, book_, weather.begin()));
  detectors_.push_back(detect_panels(instrument_, book_, weather));
}

void MechanismLog::set_next() {
  next_ = midnight_;
  for (const auto& d : detectors_) next_ = std::min(next_, d->look_at());
}

void MechanismLog::look(Tick now, const double* state, Evaluator& system) {
  if (!stored_at_begin_) stored_at_begin_ = system.stored_energy();
  for (const auto& d : detectors_) {
    if (now >= d->look_at()) d->on_look(now, state, system);
  }
  for (; midnight_ <= now; midnight_ += ticks_per_day) {
    stored_.emplace_back(midnight_, system.stored_energy());
    for (const auto& d : detectors_) d->on_day(midnight_, state + diagram_.states(), system);
  }
  set_next();
  tell(now);
}

void MechanismLog::on_happening(const Happening& h, const double* state, Evaluator& system) {
  if (h.event && h.event->routine && h.event->role == EventRole::none && !h.event->load_step) return;
  for (const auto& d : detectors_) d->on_happening(h, state, system);
  set_next();
  tell(h.time);
}

void MechanismLog::on_leap(const Leap& leap) {
  for (const auto& d : detectors_) d->on_leap(leap);
}

void MechanismLog::tell(Tick now) {
  for (const MechanismRecord* record : book_.news()) {
    const auto before = told_at_.find(record);
    const bool known = before != told_at_.end() && now - before->second <= ticks_per_day;
    told_at_[record] = now;
    if (told_ && !known) told_->on_mechanism(now, record->id, record->part, record->text);
  }
}

void MechanismLog::finish(const Context& c, Evaluator& system, ServiceRecord* service) {
  for (const auto& d : detectors_) d->finish(c.now, c.state.data() + diagram_.states(), system);
  if (!service) return;
  for (BrownOut& b : service->brownouts) {
    b.cause_id = cause_of(b);
    for (const MechanismRecord* r : book_.all()) {
      const Tick apart = r->first - b.chain.front().time;
      if (r->id == b.cause_id && std::abs(apart) <= same_moment) b.cause_text = r->text;
    }
  }
  note_unexplained(*service);
}

std::string MechanismLog::cause_of(const BrownOut& told) const {
  BrownOut b = told;
  const auto faults = std::remove_if(b.chain.begin(), b.chain.end(), [](const ChainLink& l) { return l.is_fault; });
  const bool faulty = faults != b.chain.end();
  b.chain.erase(faults, b.chain.end());
  for (const auto& d : detectors_) {
    if (std::string id = d->explains(b); !id.empty()) return id;
  }
  double now = stored_at_begin_.value_or(0);
  for (const auto& [at, joules] : stored_) {
    now = joules;
    if (at >= b.begin) break;
  }
  const double missing = stored_at_begin_.value_or(0) - now;
  const double needed = this->needed(b).value_or(0);
  const Detector::Shortage* chosen = nullptr;
  std::vector<Detector::Shortage> all;
  for (const auto& d : detectors_) {
    for (Detector::Shortage& s : d->shortages(b.begin)) all.push_back(std::move(s));
  }
  for (const Detector::Shortage& s : all) {
    if (s.joules < accounts_for * missing || s.joules < needed) continue;
    if (!chosen || rank_of_mechanism(s.id) < rank_of_mechanism(chosen->id)) chosen = &s;
  }
  if (chosen) return chosen->id;
  return faulty ? by_fault : unexplained;
}

std::optional<double> MechanismLog::needed(const BrownOut& b) const {
  for (const auto& d : detectors_) {
    if (const std::optional<double> joules = d->needed(b)) return joules;
  }
  return std::nullopt;
}

void MechanismLog::note_unexplained(const ServiceRecord& service) {
  std::size_t count = 0;
  const BrownOut* first = nullptr;
  for (const BrownOut& b : service.brownouts) {
    if (b.cause_id != unexplained) continue;
    ++count;
    if (!first) first = &b;
  }
  if (!first) return;
  const ChainLink& link = first->chain.front();
  std::string remark;
  for (const auto& d : detectors_) remark = remark.empty() ? d->remark(*first) : remark;
  // What is advised must have been found to help: charge, where a fuller cell would have borne that moment.
  const std::optional<double> joules = needed(*first);
  if (remark.empty())
    remark = !joules               ? "the chain of events tells what is known"
             : std::isinf(*joules) ? "a full cell would not have borne it either"
                                   : "with more charge the cell would have borne it, and nothing that was seen kept "
                                     "light or charge from it";
  findings_.push_back({"brownout-unexplained",
                       link.part.empty() ? std::vector<std::string>{} : std::vector<std::string>{link.part},
                       fmt::format("{} none of the known mechanisms, the first at {} ({}): {}",
                                   how_many(std::to_string(count), "brown-out") + (count == 1 ? " fits" : " fit"),
                                   iso_time(first->begin), first->cause(), remark),
                       joules && !std::isinf(*joules) ? "a larger cell or panel, or longer intervals"
                       : joules ? "less power at once, or a cell of less resistance: larger or warmer"
                                : "`overwinter why`, which looks for what would have avoided it"});
}

}  // namespace overwinter
