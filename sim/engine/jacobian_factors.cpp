#include "sim/engine/jacobian_factors.hpp"

#include <algorithm>

#include "sim/engine/compiled_lu.hpp"
#include "sim/engine/small_lu.hpp"

namespace overwinter {

namespace {

/// Visits the entries of every part's own Jacobian with their rows and columns, diagram.unknowns() for ground.
template <class Visit>
void each_entry(const Diagram& diagram, Visit&& visit) {
  for (const DiagramPart& part : diagram.parts()) {
    const std::uint32_t* place = diagram.places().data() + part.local;
    for (std::size_t i = 0; i < part.width(); ++i) {
      for (std::size_t j = 0; j < part.width(); ++j) visit(place[i], place[j]);
    }
  }
}

/// `index` says where an entry stands among the `stored` numbers.
template <class Index>
JacobianPlaces places_of(const Diagram& diagram, std::size_t stored, Index&& index) {
  const std::size_t n = diagram.unknowns();
  JacobianPlaces places;
  places.size = stored + 1;
  each_entry(diagram, [&](std::size_t row, std::size_t column) {
    places.entries.push_back(static_cast<std::uint32_t>(row == n || column == n ? stored : index(row, column)));
  });
  for (std::size_t i = 0; i < n; ++i) places.diagonal.push_back(static_cast<std::uint32_t>(index(i, i)));
  return places;
}

class DenseFactors final : public JacobianFactors {
 public:
  explicit DenseFactors(const Diagram& diagram)
      : n_(diagram.unknowns()),
        places_(places_of(diagram, n_ * n_, [&](std::size_t row, std::size_t column) { return column * n_ + row; })) {}

  const JacobianPlaces& places() const override { return places_; }
  bool factor(const double* jacobian) override { return lu_.factor(jacobian, n_); }
  void solve(double* b) const override { lu_.solve(b); }
  int sign() const override { return lu_.sign(); }
  std::size_t searched() const override { return 0; }

 private:
  std::size_t n_;
  JacobianPlaces places_;
  SmallLu lu_;
};

std::vector<CompiledLu::Place> pattern_of(const Diagram& diagram) {
  std::vector<CompiledLu::Place> pattern;
  each_entry(diagram, [&](std::uint32_t row, std::uint32_t column) {
    if (row < diagram.unknowns() && column < diagram.unknowns()) pattern.emplace_back(row, column);
  });
  return pattern;
}

class CompiledFactors final : public JacobianFactors {
 public:
  explicit CompiledFactors(const Diagram& diagram)
      : n_(diagram.unknowns()),
        compiled_(n_, diagram.nets().size(), pattern_of(diagram)),
        places_(places_of(diagram, compiled_.places().size(),
                          [&](std::size_t row, std::size_t column) { return compiled_.index(row, column); })) {}

  const JacobianPlaces& places() const override { return places_; }

  bool factor(const double* jacobian) override {
    full_ = !compiled_.factor(jacobian);
    if (!full_) return true;
    ++searched_;
    matrix_.assign(n_ * n_, 0.0);
    for (const auto& [row, column] : compiled_.places()) matrix_[column * n_ + row] = *jacobian++;
    return dense_.factor(matrix_.data(), n_);
  }

  void solve(double* b) const override {
    if (full_) {
      dense_.solve(b);
    } else {
      compiled_.solve(b);
    }
  }

  int sign() const override { return full_ ? dense_.sign() : compiled_.sign(); }
  std::size_t searched() const override { return searched_; }

 private:
  std::size_t n_;
  CompiledLu compiled_;
  JacobianPlaces places_;
  SmallLu dense_;
  std::vector<double> matrix_;
  bool full_ = false;
  std::size_t searched_ = 0;
};

}  // namespace

std::unique_ptr<JacobianFactors> make_dense_factors(const Diagram& diagram) {
  return std::make_unique<DenseFactors>(diagram);
}

std::unique_ptr<JacobianFactors> make_compiled_factors(const Diagram& diagram) {
  return std::make_unique<CompiledFactors>(diagram);
}

}  // namespace overwinter
