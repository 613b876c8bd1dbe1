/// Discrete Fourier transform of real data, any length, through FFTW. The planner of FFTW is not thread safe
/// and is guarded inside; transforms themselves run in parallel on different objects.
/// Threads: one object on one thread at a time; different objects freely.
#pragma once

#include <memory>
#include <span>
#include <vector>

namespace hb::kernel {

class RealDft {
 public:
  /// n >= 1; else std::invalid_argument.
  explicit RealDft(int n);
  ~RealDft();
  RealDft(RealDft&&) noexcept;
  RealDft& operator=(RealDft&&) noexcept;
  [[nodiscard]] int size() const noexcept;
  /// |X_k| for k = 0 .. n/2, X_k = sum x_j exp(-2 pi i j k / n), not normalised. `x` has size() values.
  [[nodiscard]] std::vector<double> modulus(std::span<const double> x);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

}  // namespace hb::kernel
