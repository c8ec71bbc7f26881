// A property over random inputs (RapidCheck), in either length of test.
#pragma once

#include <rapidcheck.h>

#include <algorithm>
#include <iostream>
#include <string>
#include <utility>

#include "tests/property/support/random_instrument.hpp"
#include "tests/support/lengths.hpp"

namespace overwinter::test {

/// Whether no more than one of so many runs is an exception; of fewer runs one may be.
inline bool one_of(std::size_t so_many, std::size_t runs, std::size_t exceptions) {
  return exceptions * so_many <= std::max(runs, so_many);
}

/// RapidCheck's own seed for the generators that it does not know.
inline Dice any_dice() {
  return Dice(*rc::gen::resize(rc::kNominalSize, rc::gen::inRange<std::uint64_t>(0, std::uint64_t{1} << 62)));
}

/// Whether it holds for so many random inputs: `full` in a long run, otherwise `few`. RC_PARAMS gives the seed.
template <class Property>
bool holds(const std::string& what, std::size_t full, std::size_t few, Property&& property) {
  rc::detail::TestParams params = rc::detail::configuration().testParams;
  params.maxSuccess = static_cast<int>(as_many(what, full, few));
  rc::detail::TestMetadata about;
  about.id = about.description = what;
  const auto result = rc::detail::checkTestable(std::forward<Property>(property), about, params);
  rc::detail::printResultMessage(result, std::cerr);
  std::cerr << std::endl;
  return result.template is<rc::detail::SuccessResult>();
}

}  // namespace overwinter::test
