// The network solved as one would who writes no more than is needed: Newton's method with the full matrix, factored
// anew at every right-hand side, from the last solution moved along with the states. Without that prediction Newton's
// method fails where a corner of a part's law lies between two states, and CVODE with it.
#pragma once

#include <memory>

#include "sim/engine/network_solver.hpp"

namespace overwinter {

std::unique_ptr<NetworkSolver> make_plain_newton(const Diagram&, double rest);

}  // namespace overwinter
