#include "sim/discrete/kernel.hpp"

#include <algorithm>
#include <stdexcept>
#include <string>
#include <systemc>

// The library's own main() wants it; ours never calls it.
int sc_main(int, char**) { return 0; }

namespace overwinter {

namespace {

/// At the kernel's resolution of 1 ns a tick is a unit of sc_time.
sc_core::sc_time nanoseconds(Tick t) { return sc_core::sc_time::from_value(static_cast<sc_dt::uint64>(t)); }
Tick kernel_now() { return static_cast<Tick>(sc_core::sc_time_stamp().value()); }

}  // namespace

/// One alarm: an event and the process it activates.
class AlarmShell : public sc_core::sc_module {
 public:
  SC_HAS_PROCESS(AlarmShell);
  AlarmShell(const sc_core::sc_module_name& name, std::size_t slot, std::vector<std::size_t>& due,
             std::size_t& activations)
      : sc_core::sc_module(name), slot_(slot), due_(due), activations_(activations) {
    SC_METHOD(come_due);
    sensitive << alarm;
    dont_initialize();
  }
  sc_core::sc_event alarm;

 private:
  void come_due() {
    ++activations_;
    due_.push_back(slot_);
  }
  const std::size_t slot_;
  std::vector<std::size_t>& due_;
  std::size_t& activations_;
};

struct DiscreteKernel::Shells {
  std::vector<std::unique_ptr<AlarmShell>> alarms;
  std::vector<std::size_t> due;
  std::size_t activations = 0;
};

DiscreteKernel& DiscreteKernel::instance() {
  static DiscreteKernel* const kernel = new DiscreteKernel;  // SystemC's own globals may be gone before ours at exit
  return *kernel;
}

DiscreteKernel::DiscreteKernel() : shells_(std::make_unique<Shells>()) {
  sc_core::sc_set_time_resolution(1, sc_core::SC_NS);
  sc_core::sc_report_handler::set_actions(sc_core::SC_ID_NO_SC_START_ACTIVITY_, sc_core::SC_DO_NOTHING);
  for (std::size_t slot = 0; slot < slots; ++slot) {
    shells_->alarms.push_back(std::make_unique<AlarmShell>(("alarm_" + std::to_string(slot)).c_str(), slot,
                                                           shells_->due, shells_->activations));
  }
  sc_core::sc_start(sc_core::SC_ZERO_TIME);  // elaborates
}

void DiscreteKernel::bind(const void* owner, Tick now) {
  owner_ = owner;
  for (const auto& shell : shells_->alarms) shell->alarm.cancel();
  offset_ = now - kernel_now();
}

void DiscreteKernel::release(const void* owner) {
  if (owner_ == owner) owner_ = nullptr;
}

void DiscreteKernel::set_alarm(std::size_t slot, Tick when) {
  if (slot >= slots) throw std::length_error("more alarms than the kernel has shells for");
  sc_core::sc_event& alarm = shells_->alarms[slot]->alarm;
  alarm.cancel();
  if (when != never) alarm.notify(nanoseconds(std::max<Tick>(0, when - offset_ - kernel_now())));
}

Tick DiscreteKernel::next() const {
  if (!sc_core::sc_pending_activity()) return never;
  return offset_ + kernel_now() + static_cast<Tick>(sc_core::sc_time_to_pending_activity().value());
}

const std::vector<std::size_t>& DiscreteKernel::run_to(Tick until) {
  shells_->due.clear();
  const Tick ahead = until - offset_ - kernel_now();
  if (ahead > 0) sc_core::sc_start(nanoseconds(ahead));
  do {  // what is due exactly now has not run yet
    sc_core::sc_start(sc_core::SC_ZERO_TIME);
  } while (sc_core::sc_pending_activity_at_current_time());
  std::sort(shells_->due.begin(), shells_->due.end());
  return shells_->due;
}

double DiscreteKernel::years() const {
  constexpr double days_per_year = 365.25;
  return static_cast<double>(kernel_now()) / (days_per_year * static_cast<double>(ticks_per_day));
}

std::size_t DiscreteKernel::activations() const { return shells_->activations; }

}  // namespace overwinter
