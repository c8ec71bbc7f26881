#include "sim/engine/jacobian_factors.hpp"

#include <algorithm>

#include "sim/engine/compiled_lu.hpp"
#include "sim/engine/keepable.hpp"
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
  bool factor(const double* jacobian) override { return lu_.renew().lu.factor(jacobian, n_); }
  void solve(double* b) const override { lu_->lu.solve(b); }
  int sign() const override { return lu_->lu.sign(); }
  std::shared_ptr<const KeptFactors> keep() const override { return lu_.keep(); }
  void recall(const std::shared_ptr<const KeptFactors>& kept) override {
    lu_.recall(std::static_pointer_cast<const Numbers>(kept));
  }
  std::size_t searched() const override { return 0; }

 private:
  struct Numbers final : KeptFactors {
    SmallLu lu;
  };

  std::size_t n_;
  JacobianPlaces places_;
  Keepable<Numbers> lu_;
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
    Numbers& now = now_.renew();
    now.packed.reset();
    now.full = !compiled_.factor(jacobian);
    now.packed = compiled_.keep();
    if (!now.full) return true;
    ++searched_;
    matrix_.assign(n_ * n_, 0.0);
    for (const auto& [row, column] : compiled_.places()) matrix_[column * n_ + row] = *jacobian++;
    return now.dense.factor(matrix_.data(), n_);
  }

  void solve(double* b) const override {
    if (now_->full) {
      now_->dense.solve(b);
    } else {
      compiled_.solve(b);
    }
  }

  int sign() const override { return now_->full ? now_->dense.sign() : compiled_.sign(); }
  std::shared_ptr<const KeptFactors> keep() const override { return now_.keep(); }
  void recall(const std::shared_ptr<const KeptFactors>& kept) override {
    now_.recall(std::static_pointer_cast<const Numbers>(kept));
    compiled_.recall(now_->packed);
  }
  std::size_t searched() const override { return searched_; }

 private:
  struct Numbers final : KeptFactors {
    bool full = false;
    std::shared_ptr<const CompiledLu::Numbers> packed;
    SmallLu dense;
  };

  std::size_t n_;
  CompiledLu compiled_;
  JacobianPlaces places_;
  Keepable<Numbers> now_;
  std::vector<double> matrix_;
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
