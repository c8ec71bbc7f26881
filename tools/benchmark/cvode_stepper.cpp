#include "tools/benchmark/cvode_stepper.hpp"

#include <cvodes/cvodes.h>
#include <cvodes/cvodes_diag.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

#include <algorithm>
#include <exception>
#include <stdexcept>

namespace overwinter {

namespace {

using Vector = std::vector<double>;

constexpr double first_share = 0.01;  // of the last step's length: the first one is of order 1

void must(int status) {
  if (status < 0) throw std::runtime_error("CVODES failed with status " + std::to_string(status));
}

class CvodeStepper final : public Stepper {
 public:
  CvodeStepper(const StepperSettings& s, CvodeVariant variant)
      : longest_(s.longest_step), states_(s.tolerances.size()), x_(s.size), point_(s.size), slopes_(s.size) {
    const auto n = static_cast<sunindextype>(states_);
    must(SUNContext_Create(nullptr, &context_));
    y_ = N_VNew_Serial(n, context_);
    flows_ = N_VNew_Serial(static_cast<sunindextype>(s.size) - n, context_);
    tolerances_ = N_VNew_Serial(n, context_);
    std::copy(s.tolerances.begin(), s.tolerances.end(), N_VGetArrayPointer(tolerances_));
    N_VConst(0, y_);
    N_VConst(0, flows_);
    cvode_ = CVodeCreate(variant == CvodeVariant::bdf ? CV_BDF : CV_ADAMS, context_);
    must(CVodeInit(cvode_, &CvodeStepper::rates, 0, y_));
    must(CVodeSVtolerances(cvode_, 0, tolerances_));
    must(CVodeQuadInit(cvode_, &CvodeStepper::flows, flows_));
    must(CVodeSetUserData(cvode_, this));
    must(CVodeSetErrFile(cvode_, nullptr));
    must(CVodeSetMaxStep(cvode_, longest_));
    if (variant == CvodeVariant::adams) {
      fixed_point_ = SUNNonlinSol_FixedPoint(y_, 0, context_);
      must(CVodeSetNonlinearSolver(cvode_, fixed_point_));
    } else if (variant == CvodeVariant::adams_diagonal) {
      must(CVDiag(cvode_));
    } else {
      jacobian_ = SUNDenseMatrix(n, n, context_);
      dense_ = SUNLinSol_Dense(y_, jacobian_, context_);
      must(CVodeSetLinearSolver(cvode_, dense_, jacobian_));
    }
  }
  ~CvodeStepper() override {
    CVodeFree(&cvode_);
    SUNNonlinSolFree(fixed_point_);
    SUNLinSolFree(dense_);
    if (jacobian_) SUNMatDestroy(jacobian_);
    N_VDestroy(tolerances_);
    N_VDestroy(flows_);
    N_VDestroy(y_);
    SUNContext_Free(&context_);
  }
  CvodeStepper(const CvodeStepper&) = delete;
  CvodeStepper& operator=(const CvodeStepper&) = delete;

  void initialize(const Vector& x, double t, double h) override {
    x_ = x;
    begin_ = end_ = t;
    known_ = false;
    std::copy_n(x.begin(), states_, N_VGetArrayPointer(y_));
    std::copy(x.begin() + offset(), x.end(), N_VGetArrayPointer(flows_));
    must(CVodeReInit(cvode_, t, y_));
    must(CVodeQuadReInit(cvode_, flows_));
    next_ = first_share * std::min(h, longest_);
    must(CVodeSetInitStep(cvode_, next_));
    must(CVodeSetStopTime(cvode_, t + longest_));
  }

  void resize(double h) override {
    next_ = h;
    must(CVodeSetStopTime(cvode_, end_ + h));
  }

  std::pair<double, double> do_step(StepSystem& system) override {
    system_ = &system;
    begin_ = end_;
    const int status = CVode(cvode_, begin_ + longest_, y_, &end_, CV_ONE_STEP);
    if (failure_) std::rethrow_exception(std::exchange(failure_, nullptr));
    // Too many failed trials are told like a lost branch: the engine restarts with a shorter step.
    if (status == CV_ERR_FAILURE || status == CV_CONV_FAILURE) throw BranchLost{};
    must(status);
    must(CVodeGetQuad(cvode_, &end_, flows_));
    gather(x_);
    must(CVodeGetCurrentStep(cvode_, &next_));
    return {begin_, end_};
  }

  void calc_state(double t, Vector& x) const override {
    // Events are searched for on whole ticks, the outermost of which may lie just outside the step.
    const double inside = std::clamp(t, begin_, end_);
    must(CVodeGetDky(cvode_, inside, 0, y_));
    must(CVodeGetQuadDky(cvode_, inside, 0, flows_));
    gather(x);
  }
  const Vector& current_state() const override { return x_; }
  double current_time_step() const override { return next_; }

 private:
  std::ptrdiff_t offset() const { return static_cast<std::ptrdiff_t>(states_); }
  void gather(Vector& x) const {
    std::copy_n(N_VGetArrayPointer(y_), states_, x.begin());
    std::copy_n(N_VGetArrayPointer(flows_), x.size() - states_, x.begin() + offset());
  }

  /// The slopes at y, once for rates and flows. CVODES is C, so that what is thrown waits until it has returned.
  bool look(N_Vector y) {
    const double* const at = N_VGetArrayPointer(y);
    if (known_ && std::equal(at, at + states_, point_.begin())) return true;
    known_ = false;
    std::copy_n(at, states_, point_.begin());
    try {
      system_->slopes(point_, slopes_);
      known_ = true;
    } catch (...) {
      failure_ = std::current_exception();
    }
    return known_;
  }
  static int rates(realtype, N_Vector y, N_Vector ydot, void* self) {
    CvodeStepper& s = *static_cast<CvodeStepper*>(self);
    if (!s.look(y)) return -1;
    std::copy_n(s.slopes_.begin(), s.states_, N_VGetArrayPointer(ydot));
    return 0;
  }
  static int flows(realtype, N_Vector y, N_Vector ydot, void* self) {
    CvodeStepper& s = *static_cast<CvodeStepper*>(self);
    if (!s.look(y)) return -1;
    std::copy(s.slopes_.begin() + s.offset(), s.slopes_.end(), N_VGetArrayPointer(ydot));
    return 0;
  }

  const double longest_;
  const std::size_t states_;
  Vector x_, point_, slopes_;  ///< the last step's end; where the system was last looked at, and its slopes there
  bool known_ = false;
  StepSystem* system_ = nullptr;
  std::exception_ptr failure_;
  double begin_ = 0, end_ = 0, next_ = 0;  ///< of the last step; the next one's length
  SUNContext context_ = nullptr;
  N_Vector y_ = nullptr, flows_ = nullptr, tolerances_ = nullptr;
  void* cvode_ = nullptr;
  SUNNonlinearSolver fixed_point_ = nullptr;
  SUNLinearSolver dense_ = nullptr;
  SUNMatrix jacobian_ = nullptr;
};

}  // namespace

std::unique_ptr<Stepper> make_cvode_stepper(const StepperSettings& s, CvodeVariant variant) {
  return std::make_unique<CvodeStepper>(s, variant);
}

}  // namespace overwinter
