#include <fmt/format.h>

#include <boost/date_time/gregorian/gregorian_types.hpp>

#include "sim/netlist/scenario.hpp"

namespace overwinter {
namespace {

using Calendar = boost::gregorian::gregorian_calendar;

std::int64_t day_number(CivilDate date) {
  return Calendar::day_number({static_cast<unsigned short>(date.year), static_cast<unsigned short>(date.month),
                               static_cast<unsigned short>(date.day)});
}

}  // namespace

std::int64_t days_since_epoch(CivilDate date) { return day_number(date) - day_number({1970, 1, 1}); }

CivilDate civil_date(std::int64_t days_since_epoch) {
  const auto ymd =
      Calendar::from_day_number(static_cast<Calendar::date_int_type>(days_since_epoch + day_number({1970, 1, 1})));
  return {ymd.year, ymd.month, ymd.day};
}

std::string iso(CivilDate date) { return fmt::format("{:04}-{:02}-{:02}", date.year, date.month, date.day); }

}  // namespace overwinter
