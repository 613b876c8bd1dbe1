#include "checks/kernel/fourier.hpp"

#include <fftw3.h>

#include <algorithm>
#include <cmath>
#include <mutex>
#include <stdexcept>

namespace hb::kernel {
namespace {
/// FFTW keeps its planner's state in the library; this guards it and is the one exception to "no globals".
std::mutex& planner_mutex() {
  static std::mutex m;
  return m;
}

/// FFTW's own memory is not that of operator delete, which the program overwrites: it may hold sound.
void wiped_free(void* p, std::size_t bytes) {
  auto* at = static_cast<volatile unsigned char*>(p);
  for (std::size_t k = 0; at != nullptr && k < bytes; ++k) at[k] = 0;
  fftw_free(p);
}
}  // namespace

struct RealDft::Impl {
  int n;
  double* in;
  fftw_complex* out;
  fftw_plan plan;

  explicit Impl(int size) : n(size), in(nullptr), out(nullptr), plan(nullptr) {
    in = fftw_alloc_real(static_cast<std::size_t>(n));
    out = fftw_alloc_complex(static_cast<std::size_t>(n / 2 + 1));
    if (in != nullptr && out != nullptr) {
      const std::lock_guard lock(planner_mutex());
      plan = fftw_plan_dft_r2c_1d(n, in, out, FFTW_ESTIMATE);
    }
    if (plan != nullptr) return;
    fftw_free(in);
    fftw_free(out);
    throw std::bad_alloc();
  }
  ~Impl() {
    {
      const std::lock_guard lock(planner_mutex());
      fftw_destroy_plan(plan);
    }
    wiped_free(in, static_cast<std::size_t>(n) * sizeof(double));
    wiped_free(out, static_cast<std::size_t>(n / 2 + 1) * sizeof(fftw_complex));
  }
  Impl(const Impl&) = delete;
  Impl& operator=(const Impl&) = delete;
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
  std::copy(x.begin(), x.end(), impl_->in);
  fftw_execute(impl_->plan);
  std::vector<std::complex<double>> out(static_cast<std::size_t>(impl_->n / 2 + 1));
  for (std::size_t k = 0; k < out.size(); ++k) out[k] = {impl_->out[k][0], impl_->out[k][1]};
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
  struct Wiped {
    std::size_t bytes;
    void operator()(void* p) const { wiped_free(p, bytes); }
  };
  const auto count = static_cast<std::size_t>(n);
  const std::unique_ptr<double, Wiped> out(fftw_alloc_real(count), Wiped{count * sizeof(double)});
  const std::unique_ptr<fftw_complex, Wiped> in(fftw_alloc_complex(spectrum.size()),
                                                Wiped{spectrum.size() * sizeof(fftw_complex)});
  if (!out || !in) throw std::bad_alloc();
  fftw_plan plan = nullptr;
  {
    const std::lock_guard lock(planner_mutex());
    plan = fftw_plan_dft_c2r_1d(n, in.get(), out.get(), FFTW_ESTIMATE);
  }
  if (plan == nullptr) throw std::bad_alloc();
  for (std::size_t k = 0; k < spectrum.size(); ++k)
    in.get()[k][0] = spectrum[k].real(), in.get()[k][1] = spectrum[k].imag();
  fftw_execute(plan);
  {
    const std::lock_guard lock(planner_mutex());
    fftw_destroy_plan(plan);
  }
  std::vector<double> x(out.get(), out.get() + n);
  for (double& v : x) v /= n;
  return x;
}
}  // namespace hb::kernel
