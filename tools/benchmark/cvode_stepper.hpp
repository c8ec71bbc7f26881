// SUNDIALS CVODES (Hindmarsh et al. 2005, ACM Trans. Math. Softw. 31(3), 363-396; Serban & Hindmarsh 2005, ASME
// DETC2005-85597) behind the engine's Stepper: events, network and models are the product's, only the integration is
// another. Restarted at order 1 on every segment, as any method with a memory must be where the right-hand side jumps.
//
// Of what CVODES offers it is given what was fastest at equal error (DEVELOPERS.md has the figures): the flows as
// quadratures outside the error control, a first step of a hundredth of the last one, BDF with a dense Jacobian by
// differences of the states. Adams is there twice: with fixed-point iteration, whose error goes with the tolerance, and
// with Newton's on a diagonal Jacobian, which is faster but iterates less well: its error jumps about.
#pragma once

#include <memory>

#include "sim/engine/stepper.hpp"

namespace overwinter {

enum class CvodeVariant { adams, adams_diagonal, bdf };

/// Throws std::runtime_error where CVODES fails for another reason than a lost branch or a step that it cannot take.
std::unique_ptr<Stepper> make_cvode_stepper(const StepperSettings&, CvodeVariant);

}  // namespace overwinter
