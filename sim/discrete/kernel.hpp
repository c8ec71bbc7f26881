// The SystemC kernel behind a plain header.
//
// The kernel keeps the calendar: the alarms that lie hours apart, such as a clock's wake-up alarm. It says when the
// next one comes due and activates one process for each. It holds no state of a run: the Context is authoritative, the
// kernel's events mirror its alarms and are laid anew whenever another run takes over.
//
// One elaboration per process is all SystemC allows (IEEE Std 1666-2011, 4.3), so a fixed set of shells is elaborated
// at the first use and bound to whatever run needs it, with a time offset. Resolution 1 ns. Not for several threads.
// Kernel time only moves forward: one process can replay some 290 years in all.
#pragma once

#include <cstddef>
#include <memory>
#include <vector>

#include "models/model.hpp"

namespace overwinter {

class DiscreteKernel {
 public:
  /// The process's kernel; elaborates it at the first call.
  static DiscreteKernel& instance();

  /// Lets a run take over: forgets all alarms and counts time from `now`. `owner` tells runs apart.
  void bind(const void* owner, Tick now);
  bool bound_to(const void* owner) const { return owner_ == owner; }
  /// Forgets the owner if it is this one, so that another at the same address is not taken for it.
  void release(const void* owner);

  /// Lays the alarm of a slot (from 0 on), or takes it back with `never`. An alarm in the past comes due at once.
  /// Throws std::length_error beyond the slots that were elaborated.
  void set_alarm(std::size_t slot, Tick when);
  /// When the next alarm comes due; `never` if none is laid.
  Tick next() const;
  /// Runs up to `until` and returns the slots that came due, in slot order.
  const std::vector<std::size_t>& run_to(Tick until);

  /// Kernel time that has gone by since the process began.
  double years() const;

  /// Processes activated since the process began.
  std::size_t activations() const;

  static constexpr std::size_t slots = 256;

 private:
  DiscreteKernel();
  struct Shells;
  std::unique_ptr<Shells> shells_;  // never destroyed
  const void* owner_ = nullptr;
  Tick offset_ = 0;  ///< run time minus kernel time
};

}  // namespace overwinter
