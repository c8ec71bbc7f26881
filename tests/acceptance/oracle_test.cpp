// An independent integrator on the same netlist: SUNDIALS CVODE (Hindmarsh et al. 2005, ACM Trans. Math. Softw. 31(3),
// 363-396) integrates the slow states with the same models and network solve, BDF, relative tolerance 1e-10, restarted
// wherever the drive or the discrete memory changes.
#include <cvodes/cvodes.h>
#include <doctest/doctest.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>

#include <cmath>
#include <memory>

#include "tests/support/replayed.hpp"

using namespace overwinter;

namespace {

struct Problem {
  const Diagram& diagram;
  Evaluator& system;
  NetworkSolver& solver;
  Context& context;
};

int right_hand_side(realtype, N_Vector y, N_Vector ydot, void* user) {
  auto& p = *static_cast<Problem*>(user);
  p.system.set_inputs(N_VGetArrayPointer(y), p.context.memory.data(), p.context.drive.data());
  if (!p.solver.solve(p.system, p.context.network, p.context.branch_sign).converged) return 1;
  p.system.rates(N_VGetArrayPointer(ydot));
  return 0;
}

/// Integrates from `from` over `seconds`, and leaves the end state in it.
void integrate(Problem& p, double seconds) {
  SUNContext sun = nullptr;
  REQUIRE(SUNContext_Create(nullptr, &sun) == 0);
  const auto n = static_cast<sunindextype>(p.diagram.states());
  N_Vector y = N_VNew_Serial(n, sun), tolerance = N_VNew_Serial(n, sun);
  sunindextype i = 0;
  for (const DiagramPart& part : p.diagram.parts()) {
    for (const State& state : part.table->states) {
      NV_Ith_S(y, i) = p.context.state[static_cast<std::size_t>(i)];
      NV_Ith_S(tolerance, i++) = 1e-11 * state.scale;
    }
  }
  void* cvode = CVodeCreate(CV_BDF, sun);
  REQUIRE(CVodeInit(cvode, right_hand_side, 0.0, y) == CV_SUCCESS);
  CVodeSVtolerances(cvode, 1e-10, tolerance);
  CVodeSetUserData(cvode, &p);
  CVodeSetMaxNumSteps(cvode, 1000000);
  CVodeSetStopTime(cvode, seconds);
  SUNMatrix matrix = SUNDenseMatrix(n, n, sun);
  SUNLinearSolver linear = SUNLinSol_Dense(y, matrix, sun);
  CVodeSetLinearSolver(cvode, linear, matrix);
  realtype reached = 0;
  REQUIRE(CVode(cvode, seconds, y, &reached, CV_NORMAL) >= 0);
  for (sunindextype k = 0; k < n; ++k) p.context.state[static_cast<std::size_t>(k)] = NV_Ith_S(y, k);
  CVodeFree(&cvode);
  SUNLinSolFree(linear);
  SUNMatDestroy(matrix);
  N_VDestroy(y);
  N_VDestroy(tolerance);
  SUNContext_Free(&sun);
}

}  // namespace

TEST_CASE("thirty days agree with CVODE within 1e-6 of the state of charge") {
  const test::Replayed bench("scenarios/peat-bog-harvest.yaml", {2025, 1, 20}, {2025, 2, 18});
  Simulator simulator(bench.diagram, bench.weather, {});
  Context ours = simulator.start();

  // The oracle integrates its own states; which memory and drive hold on which piece is taken from the run.
  Context oracle = ours;
  Evaluator system(bench.diagram);
  const std::unique_ptr<NetworkSolver> solver = make_dense_solver(bench.diagram);
  Problem problem{bench.diagram, system, *solver, oracle};
  const double capacity = 3.0 * 3600;
  double worst = 0;
  std::size_t segments = 0;
  while (ours.now < bench.weather.end()) {
    oracle.memory = ours.memory;
    oracle.drive = ours.drive;
    oracle.network = ours.network;
    oracle.branch_sign = ours.branch_sign;
    const Tick from = ours.now;
    simulator.advance_segment(ours, bench.weather.end());
    integrate(problem, static_cast<double>(ours.now - from) / ticks_per_second);
    worst = std::max(worst, std::abs(oracle.state[0] - ours.state[0]) / capacity);
    ++segments;
  }
  MESSAGE("largest difference of the state of charge over 30 days: ", worst, " in ", segments, " pieces");
  CHECK(segments >= 30 * 24);
  CHECK(worst > 0);
  CHECK(worst < 1e-6);
}
