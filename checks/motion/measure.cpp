// Capture -> measures. Pure: the same capture gives the same bits.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "checks/kernel/summary.hpp"
#include "checks/motion/motion.hpp"

namespace hb::checks {
namespace {
constexpr double kGravity = 9.80665;         // m/s^2, 3rd CGPM 1901
constexpr double kGravityHalfRange = 0.027;  // normal gravity 9.780 (equator) to 9.832 (pole): WGS 84
constexpr double kLaying_deg = 1.5;          // an edge laid on a bench by hand: common practice, no source
constexpr double kPrintStep = 0.01;          // two decimals: AOSP RecentEventLogger
constexpr double kDegPerRad = 180 / std::numbers::pi;
constexpr std::size_t kFewest = 5;

constexpr std::size_t axis_of(int face) { return std::size_t{2} - static_cast<std::size_t>((face - 1) / 2); }
constexpr double sign_of(int face) { return face % 2 == 1 ? 1 : -1; }
ShopText axis_name(std::size_t i) { return i == 0 ? Term("x") : i == 1 ? Term("y") : Term("z"); }
double rounding(double step) { return step / std::sqrt(12.0); }
double root(std::initializer_list<double> parts) {
  double s = 0;
  for (const double p : parts) s += p * p;
  return std::sqrt(s);
}

std::vector<double> along(const std::vector<Motion::Sample>& all, std::size_t axis) {
  std::vector<double> v;
  for (const auto& s : all) v.push_back(s.value[axis]);
  return v;
}

/// Mean and spread of the accelerometer on one face.
struct Rest {
  std::array<double, 3> mean{}, sd{};
  double n = 0;
  [[nodiscard]] double u(std::size_t i) const { return root({sd[i] / std::sqrt(n), rounding(kPrintStep)}); }
  [[nodiscard]] double length() const { return root({mean[0], mean[1], mean[2]}); }
};

Rest rest_of(const Motion::Face& f) {
  Rest r;
  r.n = static_cast<double>(f.accelerometer.size());
  for (std::size_t i = 0; i < 3; ++i) {
    const auto v = along(f.accelerometer, i);
    r.mean[i] = kernel::mean(v);
    r.sd[i] = kernel::standard_deviation(v);
  }
  return r;
}

/// Another axis, or the same one upside down, clearly carries the phone: it lies on another face. An axis
/// that reads nothing at all is not that.
bool lies_elsewhere(const Rest& r, int face) {
  if (sign_of(face) * r.mean[axis_of(face)] > 0.5 * kGravity) return false;
  return std::any_of(r.mean.begin(), r.mean.end(), [](double a) { return std::abs(a) > 0.7 * kGravity; });
}

bool torn(const Motion::Capture& c) {
  const auto bad = [](const Motion::Sample& s) {
    return !std::isfinite(s.t_s) ||
           std::any_of(s.value.begin(), s.value.end(), [](double v) { return !(std::abs(v) < 1e4); });
  };
  return std::any_of(c.faces.begin(), c.faces.end(), [&](const auto& f) {
    return f.face < 1 || f.face > 6 || std::any_of(f.accelerometer.begin(), f.accelerometer.end(), bad) ||
           std::any_of(f.gyroscope.begin(), f.gyroscope.end(), bad);
  });
}

class Faces {
 public:
  explicit Faces(const Motion::Capture& c) : c_(c) {}

  Result<Measured> take() {
    for (const auto& f : c_.faces) {
      const auto i = static_cast<std::size_t>(f.face - 1);
      if (f.accelerometer.size() < kFewest)
        return Error{ErrorCode::unsupported, "too few events of the accelerometer on a face to judge it",
                     "motion", "Open an app that uses motion and run the check again."};
      rests_[i] = rest_of(f);
      if (lies_elsewhere(*rests_[i], f.face))
        return Error{ErrorCode::unsupported, "the phone did not lie on the face that was asked for", "motion",
                     "Run the check again and follow the prompts."};
    }
    if (!std::all_of(rests_.begin(), rests_.end(), [](const auto& r) { return r.has_value(); }))
      return Error{ErrorCode::bad_format, "the capture lacks a face", "motion", "Run the check again."};
    whole();
    for (std::size_t axis = 0; axis < 3; ++axis) one(axis);
    gyroscope();
    return std::move(out_);
  }

 private:
  void add(Term key, ShopText part, double value, double u, Term unit, double n) {
    out_.measures.push_back({key, std::move(part), value, u, unit, static_cast<std::int64_t>(n)});
  }

  void whole() {
    double worst = 0, u = 0, ss = 0, dof = 0, n = 0, n_worst = 0;
    for (const auto& r : rests_) {
      const double error = std::abs(r->length() - kGravity);
      if (error >= worst) {
        worst = error, n_worst = r->n;
        u = root({r->u(0), r->u(1), r->u(2), kGravityHalfRange / std::sqrt(3.0)});
      }
      for (const double sd : r->sd) ss += sd * sd * (r->n - 1), dof += r->n - 1;
      n += r->n;
    }
    add("motion.gravity_error_ms2", {}, worst, u, "m/s2", n_worst);
    const double noise = std::max(std::sqrt(ss / dof), rounding(kPrintStep));
    add("motion.noise_ms2", {}, noise, noise / std::sqrt(2 * dof), "m/s2", n);
    add("motion.events", {}, n, 0, "1", n);
  }

  void one(std::size_t axis) {
    const std::size_t up = 2 * (2 - axis);
    const Rest &a = *rests_[up], &b = *rests_[up + 1];
    const double laying = kLaying_deg / kDegPerRad;
    const double u_half = root({a.u(axis), b.u(axis)}) / 2, n = a.n + b.n;
    const double level = kGravity * (1 - std::cos(laying));
    add("motion.offset_ms2", axis_name(axis), (a.mean[axis] + b.mean[axis]) / 2, root({u_half, level}),
        "m/s2", n);
    add("motion.response", axis_name(axis), (a.mean[axis] - b.mean[axis]) / (2 * kGravity),
        root({u_half, level, kGravityHalfRange / std::sqrt(3.0)}) / kGravity, "1", n);
    double cross = 0;
    for (std::size_t j = 0; j < 3; ++j)
      if (j != axis) cross = std::max(cross, std::abs(a.mean[j] - b.mean[j]) / (2 * kGravity));
    // Two layings, each off by its own angle.
    add("motion.cross_axis_pct", axis_name(axis), 100 * cross,
        100 * root({std::sin(laying) / std::sqrt(2.0), u_half / kGravity}), "%", n);
  }

  void gyroscope() {
    for (std::size_t axis = 0; axis < 3; ++axis) {
      std::vector<double> v;
      for (const auto& f : c_.faces)
        for (const double w : along(f.gyroscope, axis)) v.push_back(w * kDegPerRad);
      if (v.size() < kFewest) return;
      add("motion.gyro_bias_deg_s", axis_name(axis), kernel::mean(v),
          root({kernel::mean_uncertainty(v), rounding(kPrintStep * kDegPerRad)}), "deg/s",
          static_cast<double>(v.size()));
    }
  }

  const Motion::Capture& c_;
  std::array<std::optional<Rest>, 6> rests_;
  Measured out_;
};
}  // namespace

Result<Measured> Motion::measure(const Capture& capture, const Config&) {
  if (torn(capture))
    return Error{ErrorCode::bad_format, "the capture is torn: a value is out of range", "motion",
                 "Run the check again."};
  return Faces(capture).take();
}

}  // namespace hb::checks
