#include "sim/engine/microscope.hpp"

#include <doctest/doctest.h>

#include <limits>

using namespace overwinter;

namespace {

Instant instant(double worst) {
  Instant i;
  i.events = {{0, 1, 2}, {0, 3, 0}};
  i.delivered = {0, 0.045};
  i.missing_charge = 5e-4;
  i.worst = {{1, 0, worst}};
  return i;
}

SoundInstants seen(double worst, double least) {
  return {std::make_shared<const SoundInstant>(
      SoundInstant{instant(worst), {least, std::numeric_limits<double>::infinity()}, 4'000'000})};
}

}  // namespace

TEST_CASE("microscope: an instant is thin by its worst case, or by a store that is switched on empty") {
  Instant i = instant(0.5);
  CHECK(is_thin(i));
  i.missing_charge = 0;
  CHECK_FALSE(is_thin(i));
  i.worst[0].value = 0.019;
  CHECK(is_thin(i));
  i.worst.clear();
  CHECK_FALSE(is_thin(i));
}

TEST_CASE("microscope: an earlier sound instant stands for one whose worst case has moved by less than is left") {
  const SoundInstants known = seen(0.10, 0.15);
  CHECK(known_sound(instant(0.10), &known) == known.front().get());
  CHECK(known_sound(instant(0.30), &known));        // better off
  CHECK(known_sound(instant(0.01), &known));        // 0.15 - 1.5 0.09 = 15 mV are left
  CHECK_FALSE(known_sound(instant(0.0), &known));   // nothing is
  CHECK_FALSE(known_sound(instant(0.40), &known));  // another input voltage altogether
  CHECK_FALSE(known_sound(instant(0.10), nullptr));
}

TEST_CASE("microscope: only the same kind of instant is compared") {
  const SoundInstants known = seen(0.10, 0.15);
  Instant other = instant(0.10);
  other.events.pop_back();
  CHECK_FALSE(known_sound(other, &known));
  other = instant(0.10);
  other.delivered[1] = 0.060;
  CHECK_FALSE(known_sound(other, &known));
  other = instant(0.10);
  other.missing_charge = 2e-4;
  CHECK_FALSE(known_sound(other, &known));
  other = instant(0.10);
  other.worst[0].margin = 1;
  CHECK_FALSE(known_sound(other, &known));
}
