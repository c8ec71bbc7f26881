#include "sim/service/service.hpp"

#include <algorithm>
#include <cmath>

#include "sim/engine/fault_plan.hpp"

namespace overwinter {

namespace {

constexpr Tick minute = 60 * ticks_per_second;
constexpr Tick start_grace = minute;  // a start within it is on time: soft starts, retries
constexpr Tick week = 7 * ticks_per_day;

std::string fault_named(const Happening& h) {
  return "fault: " + (h.part ? h.part_name() + " " : std::string()) + h.event_name();
}

}  // namespace

std::string name_of(Outcome outcome) {
  switch (outcome) {
    case Outcome::recovered:
      return "recovered";
    case Outcome::needs_human:
      return "needs human";
    case Outcome::undecided:
      return "undecided";
  }
  return {};
}

Service::Service(const Diagram& diagram, Tick begin, Tick end, SunnyDays sky, int sunny_days)
    : diagram_(diagram),
      feeding_(diagram),
      begin_(begin),
      end_(end),
      sky_(std::move(sky)),
      sunny_days_(sunny_days),
      last_completed_(begin) {
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    if (has_event(*diagram.parts()[p].table, EventRole::brown_out)) controller_ = p;
  }
}

bool Service::asks(const DiagramPart& part, const Evaluator& system) const {
  if (has_event(*part.table, EventRole::brown_out)) return wanted_;
  if (part.nets.empty()) return true;  // it hangs nowhere
  const int net = part.nets[0];
  if (feeding_.fed(net, system)) return true;
  return wanted_ && controller_ && feeding_.joined(net, diagram_.parts()[*controller_].nets[0], system);
}

void Service::on_step(Tick reached, const double*, Evaluator&) { pass(reached); }

void Service::pass(Tick now) {
  if (!came_due_unstarted_ || now <= *came_due_unstarted_ + start_grace) return;
  const Tick due = *came_due_unstarted_;
  came_due_unstarted_.reset();
  if (running_) return;
  if (in_brownout_) return;
  const auto told = [&](const std::string& when) {
    return !powered_ ? "no supply " + when
           : valid_  ? "still powered " + when + ", so that nothing started"
                     : "no valid supply " + when;
  };
  // Whatever kept the supply away since the alarm comes first, and then the alarm's own time would not be in order.
  const auto since = [&](const std::vector<ChainLink>& links) {
    return std::any_of(links.begin(), links.end(), [&](const ChainLink& link) { return link.time > due; });
  };
  if (since(faults_) || since(cuts_) || since(strained_)) {
    begin_brownout(due, {due + start_grace, "", told("a minute after the alarm came due")});
  } else {
    begin_brownout(due, {due, "", told("when the alarm came due")});
  }
}

void Service::begin_brownout(Tick at, ChainLink last) {
  in_brownout_ = true;
  BrownOut b;
  b.begin = at;
  b.chain = faults_;
  b.chain.insert(b.chain.end(), cuts_.begin(), cuts_.end());
  b.chain.insert(b.chain.end(), strained_.begin(), strained_.end());
  std::stable_sort(b.chain.begin(), b.chain.end(),
                   [](const ChainLink& x, const ChainLink& y) { return x.time < y.time; });
  b.chain.push_back(std::move(last));
  record_.brownouts.push_back(std::move(b));
}

/// A wake, unless the present one has been counted.
void Service::count_wake() {
  if (counted_) return;
  counted_ = true;
  ++record_.wakes;
}

void Service::fail_start() {
  ++record_.failed_starts;
  if (in_brownout_ && power_came_inside_) ++record_.brownouts.back().attempts;
}

void Service::complete(Tick now) {
  if (!controller_told_) {  // it runs since the span's start, whose own events are not told: no alarm was in vain
    powered_ = true;
    valid_ = true;
    in_brownout_ = false;
    record_.brownouts.clear();
  }
  count_wake();
  ++record_.completed;
  record_.completed_at.push_back(now);
  if (now - last_completed_ > record_.longest_gap.length()) record_.longest_gap = {last_completed_, now, false};
  last_completed_ = now;
  if (due_ && wake_began_ - *due_ > start_grace) record_.downtime += wake_began_ - *due_;
  if (due_) ++answered_;
  due_.reset();
  counted_ = false;
  running_ = false;
  wanted_ = record_.due == 0;  // where nothing sets alarms, the instrument runs whenever it can
  strained_.clear();
  if (!in_brownout_) return;
  in_brownout_ = false;
  record_.brownouts.back().recovered = now;
  judge(record_.brownouts.back());
}

void Service::judge(BrownOut& b) const {
  int left = sunny_days_;
  b.end = b.recovered.value_or(end_);
  for (std::size_t day = static_cast<std::size_t>((b.begin - begin_) / ticks_per_day) + 1; day < sky_.sunny.size();
       ++day) {
    const Tick day_end = begin_ + static_cast<Tick>(day + 1) * ticks_per_day;
    if (day_end > b.end) break;
    if (!sky_.sunny[day]) continue;
    b.sunny_days.push_back(day);
    if (--left > 0) continue;
    b.outcome = Outcome::needs_human;
    b.needs_human_since = day_end;
    return;
  }
  b.outcome = b.recovered ? Outcome::recovered : Outcome::undecided;
}

void Service::on_happening(const Happening& h, const double*, Evaluator& system) { happens(h, &system); }

/// Each part once, and what it counted as often as it was stepped over.
void Service::on_leap(const Leap& leap) {
  const auto attempts = [this] { return record_.brownouts.empty() ? 0 : record_.brownouts.back().attempts; };
  Tick from = leap.begin;
  for (const Leap::Part* part : {&leap.first, &leap.then}) {
    if (part->events.empty()) continue;
    const std::size_t failed_before = record_.failed_starts, attempts_before = attempts();
    const Tick first = part->events.front().time;
    for (const CycleEvent& e : part->events) {
      const DiagramPart& of = diagram_.parts()[e.part];
      happens({std::min(leap.end, from + (e.time - first)), 0, &of, &of.table->events[e.event]});
    }
    from = leap.begin + (leap.end - leap.begin) / 2;
    const auto times = [&](std::size_t once) {
      return static_cast<std::size_t>(std::llround(part->times * static_cast<double>(once)));
    };
    const std::size_t failed_once = record_.failed_starts - failed_before, once = attempts() - attempts_before;
    record_.failed_starts = failed_before + times(failed_once);
    if (in_brownout_) record_.brownouts.back().attempts = attempts_before + times(once);
  }
}

void Service::happens(const Happening& h, const Evaluator* system) {
  pass(h.time);
  if (!h.event) {
    strained_.push_back({h.time, "", "collapse of the network"});
    return;
  }
  const std::string& part = h.part_name();
  switch (h.event->role) {
    case EventRole::none:
    case EventRole::damage:  // DamageLog
      break;
    case EventRole::alarm_lost:
      if (!in_brownout_) begin_brownout(h.time, {h.time, part, h.event->name});
      break;
    case EventRole::alarm_due:
      ++record_.due;
      wanted_ = true;
      if (!due_) due_ = h.time;
      if (running_) break;
      counted_ = false;
      came_due_unstarted_ = h.time;
      break;
    case EventRole::power_came:
      powered_ = true;
      powered_since_ = h.time;
      valid_ = false;
      power_came_inside_ = in_brownout_;
      strained_.clear();
      if (due_) count_wake();
      break;
    case EventRole::wake_begins:
      powered_ = true;  // a controller powered since the span's start has not seen power come
      valid_ = true;
      running_ = true;
      wake_began_ = h.time;
      came_due_unstarted_.reset();
      if (wanted_) count_wake();  // also one that no alarm asked for
      break;
    case EventRole::wake_completed:
      complete(h.time);
      break;
    case EventRole::brown_out:
      running_ = false;
      if (!wanted_) break;
      if (in_brownout_) {
        ++record_.brownouts.back().attempts;
        break;
      }
      brownout_round_ = h.round;
      begin_brownout(h.time, {h.time, part, h.event->name});
      break;
    case EventRole::power_gone:
      if (powered_ && !valid_ && h.time > powered_since_) fail_start();  // a rise and fall in one instant is none
      powered_ = false;
      running_ = false;
      strained_.clear();
      break;
    case EventRole::limit:
      strained_.push_back({h.time, part, h.event->name});
      break;
    case EventRole::cut: {
      if (std::any_of(cuts_.begin(), cuts_.end(), [&](const ChainLink& c) { return c.part == part; })) break;
      if (system && !asks(*h.part, *system)) break;
      cuts_.push_back({h.time, part, h.event->name});
      // Of one event round: what cut the supply goes before the brown-out, whatever the parts' names.
      if (in_brownout_ && record_.brownouts.back().begin == h.time && brownout_round_ == h.round) {
        std::vector<ChainLink>& chain = record_.brownouts.back().chain;
        chain.insert(chain.end() - 1, cuts_.back());
      }
      break;
    }
    case EventRole::fault_begins:
      faults_.push_back({h.time, "", fault_named(h), true});
      break;
    case EventRole::fault_over: {
      const auto over = std::find_if(faults_.begin(), faults_.end(),
                                     [&](const ChainLink& f) { return fault_named(h) == f.event + fault_over_suffix; });
      if (over != faults_.end()) faults_.erase(over);
      break;
    }
    case EventRole::restored:
      cuts_.erase(std::remove_if(cuts_.begin(), cuts_.end(), [&](const ChainLink& c) { return c.part == part; }),
                  cuts_.end());
      break;
  }
  const EventRole role = h.event->role;
  controller_told_ = controller_told_ || role == EventRole::power_came || role == EventRole::wake_begins ||
                     role == EventRole::wake_completed || role == EventRole::brown_out || role == EventRole::power_gone;
}

ServiceRecord Service::finish() {
  // An alarm that came due less than the grace before the end crosses it and is not counted.
  if (due_ && end_ - *due_ <= start_grace && came_due_unstarted_) {
    --record_.due;
    if (counted_) --record_.wakes;
    due_.reset();
  }
  pass(end_ + 1);
  if (powered_ && !valid_ && end_ - powered_since_ > start_grace) fail_start();
  if (end_ - last_completed_ > record_.longest_gap.length()) record_.longest_gap = {last_completed_, end_, true};
  if (due_ && !running_) record_.downtime += end_ - *due_;
  if (due_ && running_ && wake_began_ - *due_ > start_grace) record_.downtime += wake_began_ - *due_;
  if (running_ && !in_brownout_) {  // a wake that crosses the end
    if (due_) --record_.due;
    if (counted_) --record_.wakes;
  }
  record_.missed = record_.due - answered_;
  if (in_brownout_) judge(record_.brownouts.back());

  const std::vector<Tick>& done = record_.completed_at;
  const auto between = [&](Tick from, Tick to) {
    return static_cast<std::size_t>(std::lower_bound(done.begin(), done.end(), to) -
                                    std::lower_bound(done.begin(), done.end(), from));
  };
  for (Tick day = begin_; day + ticks_per_day <= end_; day += ticks_per_day) {
    const std::size_t count = between(day, day + ticks_per_day);
    record_.worst_day_wakes = std::min(record_.worst_day_wakes.value_or(count), count);
  }
  if (end_ - begin_ >= week) {
    std::vector<Tick> starts = {begin_};
    for (const Tick t : done) {
      if (t + 1 + week <= end_) starts.push_back(t + 1);
    }
    for (const Tick start : starts) {
      const std::size_t count = between(start, start + week);
      if (record_.worst_week_wakes && *record_.worst_week_wakes <= count) continue;
      record_.worst_week_wakes = count;
      record_.worst_week_begin = start;
    }
  }
  return record_;
}

}  // namespace overwinter
