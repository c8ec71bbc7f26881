// A value that is written over in place unless somebody has kept it.
#pragma once

#include <memory>
#include <utility>

namespace overwinter {

template <class T>
class Keepable {
 public:
  /// To be written; holds anything.
  T& renew() {
    now_.reset();
    if (!own_ || own_.use_count() > 1) own_ = std::make_shared<T>();
    now_ = own_;
    return *own_;
  }
  /// The value as it is, whatever is renewed later.
  std::shared_ptr<const T> keep() const { return now_; }
  /// Goes on with one that was kept.
  void recall(std::shared_ptr<const T> kept) { now_ = std::move(kept); }
  const T& operator*() const { return *now_; }
  const T* operator->() const { return now_.get(); }

 private:
  std::shared_ptr<T> own_;
  std::shared_ptr<const T> now_;
};

}  // namespace overwinter
