#include "tools/benchmark/plain_newton.hpp"

namespace overwinter {

namespace {

class PlainNewton final : public NetworkSolver {
 public:
  PlainNewton(const Diagram& diagram, double rest) : inner_(make_dense_solver(diagram, rest)) {}

  SolveOutcome solve(Evaluator& system, std::vector<double>& network, int branch_sign) override {
    inner_->recall(nullptr);
    return inner_->solve(system, network, branch_sign);
  }
  SolveOutcome stay(Evaluator& system, std::vector<double>& network, int branch_sign) override {
    inner_->recall(nullptr);
    return inner_->stay(system, network, branch_sign);
  }
  SolveOutcome track(Evaluator& system, std::vector<double>& network, const Context& inputs,
                     const std::vector<double>& from, const std::vector<double>& to, double trusted) override {
    inner_->recall(nullptr);
    return inner_->track(system, network, inputs, from, to, trusted);
  }
  bool factor_at(Evaluator& system, const std::vector<double>& network) override {
    return inner_->factor_at(system, network);
  }
  void respond(double* f) const override { inner_->respond(f); }
  std::shared_ptr<const SolverMemory> keep() override { return nullptr; }
  void recall(const std::shared_ptr<const SolverMemory>&) override {}
  const SolveCounts& counts() const override { return inner_->counts(); }

 private:
  std::unique_ptr<NetworkSolver> inner_;
};

}  // namespace

std::unique_ptr<NetworkSolver> make_plain_newton(const Diagram& diagram, double rest) {
  return std::make_unique<PlainNewton>(diagram, rest);
}

}  // namespace overwinter
