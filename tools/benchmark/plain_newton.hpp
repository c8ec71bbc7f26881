// The network solved as one would who writes no more than is needed: Newton's method with the full matrix, from the last
// solution, a new Jacobian in every iteration. What the engine does beside that - factors kept and used again, the
// network moved along with the states - is left out.
#pragma once

#include <memory>

#include "sim/engine/network_solver.hpp"

namespace overwinter {

std::unique_ptr<NetworkSolver> make_plain_newton(const Diagram&, double rest);

}  // namespace overwinter
