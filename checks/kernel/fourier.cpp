#include "checks/kernel/fourier.hpp"

#include <cmath>
#include <stdexcept>
#include <unsupported/Eigen/FFT>

// Eigen's transform keeps its tables and its scratch in std::vector, so what it held goes through operator
// delete, which the program overwrites: it may be sound.
namespace hb::kernel {

struct RealDft::Impl {
  int n;
  Eigen::FFT<double> fft;

  explicit Impl(int size) : n(size), fft(Eigen::FFT<double>::impl_type(), Eigen::FFT<double>::HalfSpectrum) {}
};

RealDft::RealDft(int n) {
  if (n < 1) throw std::invalid_argument("RealDft: length at least 1");
  impl_ = std::make_unique<Impl>(n);
}
RealDft::~RealDft() = default;
RealDft::RealDft(RealDft&&) noexcept = default;
RealDft& RealDft::operator=(RealDft&&) noexcept = default;
int RealDft::size() const noexcept { return impl_->n; }

std::vector<std::complex<double>> RealDft::transform(std::span<const double> x) {
  if (x.size() != static_cast<std::size_t>(impl_->n)) throw std::invalid_argument("RealDft: wrong length");
  std::vector<std::complex<double>> out(static_cast<std::size_t>(impl_->n / 2 + 1));
  if (impl_->n == 1)
    out[0] = x[0];
  else
    impl_->fft.fwd(out.data(), x.data(), impl_->n);
  return out;
}

std::vector<double> RealDft::modulus(std::span<const double> x) {
  const auto all = transform(x);
  std::vector<double> m(all.size());
  for (std::size_t k = 0; k < m.size(); ++k) m[k] = std::hypot(all[k].real(), all[k].imag());
  return m;
}

std::vector<double> real_inverse_dft(std::span<const std::complex<double>> spectrum, int n) {
  if (n < 1 || spectrum.size() != static_cast<std::size_t>(n / 2 + 1))
    throw std::invalid_argument("real_inverse_dft: n/2 + 1 values");
  if (n == 1) return {spectrum[0].real()};
  std::vector<double> x(static_cast<std::size_t>(n));
  Eigen::FFT<double> fft(Eigen::FFT<double>::impl_type(), Eigen::FFT<double>::HalfSpectrum);
  fft.inv(x.data(), spectrum.data(), n);  // scaled by 1/n
  return x;
}
}  // namespace hb::kernel
