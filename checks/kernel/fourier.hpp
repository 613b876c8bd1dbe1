/// Discrete Fourier transform of real data, any length, through Eigen's transform (kissfft's algorithm; FFTW
/// is quicker, but its licence does not fit this project's). Threads: one object on one thread at a time;
/// different objects freely.
#pragma once

#include <complex>
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
  /// X_k itself, for the same k.
  [[nodiscard]] std::vector<std::complex<double>> transform(std::span<const double> x);

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};

/// x_j = (1/n) sum over all k of X_k exp(2 pi i j k / n), so that it undoes RealDft::transform. `spectrum`
/// has n/2 + 1 values, n >= 1; else std::invalid_argument.
[[nodiscard]] std::vector<double> real_inverse_dft(std::span<const std::complex<double>> spectrum, int n);

}  // namespace hb::kernel
