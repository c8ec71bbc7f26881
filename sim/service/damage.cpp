#include "sim/service/damage.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <limits>
#include <utility>

#include "sim/netlist/units_text.hpp"

namespace overwinter {

namespace {

constexpr Tick apart = 60 * ticks_per_second;

double seconds(Tick t) { return static_cast<double>(t) / ticks_per_second; }

const Event& event_of(const DiagramPart& part, const AbsoluteLimit& limit) { return part.table->events[limit.event]; }

/// In three digits, or in as many as tell it from its limit.
std::string worst_text(const Damage& d, const std::string& allowed) {
  constexpr int few = 3, most = 9;
  std::string text;
  for (int digits = few; digits <= most; ++digits) {
    text = fmt::format("{:.{}g} {}", in_unit(d.worst, d.limit->unit) + 0.0, digits, d.limit->unit.text);
    if (text != allowed) break;
  }
  return text;
}

}  // namespace

DamageLog::DamageLog(const Diagram& diagram) {
  for (std::size_t p = 0; p < diagram.parts().size(); ++p) {
    for (const AbsoluteLimit& limit : diagram.parts()[p].table->limits) {
      Watched w;
      w.part = p;
      w.damage.part = diagram.parts()[p].name;
      w.damage.limit = &limit;
      w.damage.worst = (limit.is_least ? 1 : -1) * std::numeric_limits<double>::infinity();
      watched_.push_back(std::move(w));
    }
  }
}

void DamageLog::on_step(Tick reached, const double*, Evaluator& system) {
  for (Watched& w : watched_) look(w, reached, system);
}

/// Up to an instant's events what was so before them goes on.
void DamageLog::on_happening(const Happening& h, const double*, Evaluator& system) {
  if (h.round != 0) return;
  for (Watched& w : watched_) {
    if (w.is_beyond()) look(w, h.time, system);
  }
}

void DamageLog::look(Watched& w, Tick now, Evaluator& system) {
  const DiagramPart& part = system.diagram().parts()[w.part];
  const Model& model = system.model(w.part);
  const View view = system.view(w.part);
  const double before = std::exchange(w.guard, event_of(part, *w.damage.limit).guard(model, view));
  const Tick since = std::exchange(w.looked, now);
  Damage& d = w.damage;
  if (before >= 0) {
    const double share = w.is_beyond() ? 1 : before / (before - w.guard);
    d.beyond += share * seconds(now - since);
    d.last = since + static_cast<Tick>(share * static_cast<double>(now - since));
    if (!w.is_beyond()) w.within = d.last;
  }
  if (!w.is_beyond()) return;
  if (before < 0) {
    if (d.times == 0) d.first = now;
    if (!w.within || now - *w.within >= apart) ++d.times;
  }
  d.last = now;
  const double value = d.limit->value(model, view);
  if (d.limit->is_least ? value >= d.worst : value <= d.worst) return;
  d.worst = value;
  d.worst_at = now;
  d.allowed = d.limit->limit(model);
}

void DamageLog::on_leap(const Leap& leap) {
  for (Watched& w : watched_) {
    if (w.within) *w.within += leap.end - leap.begin;
  }
}

std::vector<Damage> DamageLog::damages() const {
  std::vector<Damage> all;
  for (const Watched& w : watched_) {
    if (w.damage.times > 0) all.push_back(w.damage);
  }
  return all;
}

std::size_t times_damaged(const std::vector<Damage>& all) {
  std::size_t times = 0;
  for (const Damage& d : all) times += d.times;
  return times;
}

std::string damage_text(const Damage& d) {
  const std::string allowed = quantity_text(d.allowed, d.limit->unit);
  std::string reads = d.limit->reads;
  if (const std::size_t at = reads.find("{}"); at != std::string::npos) reads.replace(at, 2, allowed);
  return fmt::format("{} {} {}, {} to {}", d.part, reads, d.times == 1 ? "once" : fmt::format("{} times", d.times),
                     d.limit->is_least ? "down" : "up", worst_text(d, allowed));
}

std::string damage_text(const std::vector<Damage>& all) {
  std::vector<Damage> sorted = all;
  std::stable_sort(sorted.begin(), sorted.end(), [](const Damage& a, const Damage& b) { return a.times > b.times; });
  std::vector<std::string> texts;
  for (const Damage& d : sorted) texts.push_back(damage_text(d));
  return fmt::format("damage: {}", fmt::join(texts, ", and "));
}

}  // namespace overwinter
