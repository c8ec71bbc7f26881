#include "sim/netlist/site_fields.hpp"

#include <memory>

#include "sim/site.hpp"

namespace overwinter {
const std::vector<Field>& site_fields() {
  static const ModelTable table = [] {
    FieldsBuilder<Site> t("site", "Where the instrument stands.");
    const double degree = units::degree.si();
    t.scalar("latitude", &Site::latitude, "deg")
        .required()
        .at_least(-90 * degree)
        .at_most(90 * degree)
        .meaning("geographic latitude, north positive");
    t.scalar("longitude", &Site::longitude, "deg")
        .required()
        .at_least(-180 * degree)
        .at_most(180 * degree)
        .meaning("geographic longitude, east positive");
    t.scalar("elevation", &Site::elevation, "m")
        .required()
        .at_least(-440)
        .at_most(9000)
        .meaning("above sea level")
        .source("limits: lowest shore and highest summit on land");
    t.scalar("utc_offset", &Site::utc_offset, "h")
        .required()
        .at_least(-12 * 3600)
        .at_most(14 * 3600)
        .meaning("standard time minus UTC, without daylight saving")
        .source("limits: civil time zones in use");
    t.scalar("albedo", &Site::albedo, "1")
        .at_least(0)
        .at_most(1)
        .meaning("reflectance of the ground")
        .source("0.2: common practice for ground without snow");
    return t.done();
  }();
  return table.fields;
}

}  // namespace overwinter
