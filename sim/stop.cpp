#include "sim/stop.hpp"

#include <fmt/format.h>
#include <sys/resource.h>
#include <time.h>

#include "sim/netlist/units_text.hpp"
#include "sim/report/facts.hpp"

namespace overwinter {

namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t each = 32;

double seconds(const timespec& t) { return static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec); }
double seconds(const timeval& t) { return static_cast<double>(t.tv_sec) + 1e-6 * static_cast<double>(t.tv_usec); }

double clock_of(clockid_t clock) {
  timespec now = {};
  return ::clock_gettime(clock, &now) == 0 ? seconds(now) : 0.0;
}

double spent() {
  rusage children = {};
  ::getrusage(RUSAGE_CHILDREN, &children);
  return clock_of(CLOCK_PROCESS_CPUTIME_ID) + seconds(children.ru_utime) + seconds(children.ru_stime);
}

}  // namespace

TimeLimit::TimeLimit(std::optional<double> limit) : seconds_(limit), begun_(limit ? spent() : 0.0) {}

void TimeLimit::look() {
  if (seconds_ && ++calls_ % each == 0) look_now(0);
}

void TimeLimit::look_now(double more) const {
  if (seconds_ && spent() + more - begun_ >= *seconds_) throw Stopped{};
}

double processor_time(int process) {
  clockid_t clock;
  return ::clock_getcpuclockid(process, &clock) == 0 ? clock_of(clock) : 0.0;
}

Json cut_short_json(const Stopped& stopped, std::optional<double> limit) {
  if (stopped.signal != 0) return {{"by", "signal"}, {"signal", stopped.signal}};
  return {{"by", "limit"}, {"limit_s", limit ? Json(*limit) : Json(nullptr)}};
}

Json at_work_json() { return {{"by", "end"}}; }

std::string cut_short_by(const Json& cut_short) {
  const std::string by = text_of(member(cut_short, "by"));
  if (by == "limit") {
    const std::optional<double> seconds = number_of(member(cut_short, "limit_s"));
    return "the limit of " + (seconds ? duration_text(*seconds) + " of " : std::string()) + "processor time";
  }
  if (by == "signal") return "an interruption";
  return "the end of the program";
}

}  // namespace overwinter
