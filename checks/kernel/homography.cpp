#include "checks/kernel/homography.hpp"

#include <Eigen/Dense>
#include <cmath>
#include <numbers>
#include <vector>

namespace hb::kernel {
namespace {
using Matrix3 = Eigen::Matrix3d;
constexpr int kPasses = 20;
constexpr double kDegenerate = 1e-7;  // of the largest singular value

/// Shifts the centroid to the origin and scales the mean distance from it to sqrt 2.
struct Normal {
  Matrix3 t;
  std::vector<Eigen::Vector2d> points;
};
std::optional<Normal> normalised(std::span<const Point> points) {
  double mx = 0, my = 0, far = 0;
  const auto n = static_cast<double>(points.size());
  for (const Point p : points) mx += p.x / n, my += p.y / n;
  for (const Point p : points) far += std::hypot(p.x - mx, p.y - my) / n;
  if (!std::isfinite(far) || !(far > 0)) return std::nullopt;
  const double s = std::numbers::sqrt2 / far;
  Normal out;
  out.t << s, 0, -s * mx, 0, s, -s * my, 0, 0, 1;
  for (const Point p : points) out.points.emplace_back(s * (p.x - mx), s * (p.y - my));
  return out;
}

std::optional<Matrix3> direct(const Normal& from, const Normal& to) {
  const auto n = static_cast<Eigen::Index>(from.points.size());
  Eigen::MatrixXd a(std::max<Eigen::Index>(2 * n, 9), 9);
  a.setZero();
  for (Eigen::Index i = 0; i < n; ++i) {
    const auto& p = from.points[static_cast<std::size_t>(i)];
    const auto& q = to.points[static_cast<std::size_t>(i)];
    a.row(2 * i) << 0, 0, 0, -p.x(), -p.y(), -1, q.y() * p.x(), q.y() * p.y(), q.y();
    a.row(2 * i + 1) << p.x(), p.y(), 1, 0, 0, 0, -q.x() * p.x(), -q.x() * p.y(), -q.x();
  }
  const Eigen::JacobiSVD<Eigen::MatrixXd> svd(a, Eigen::ComputeFullV);
  const auto& s = svd.singularValues();
  if (!(s(7) > kDegenerate * s(0))) return std::nullopt;
  const Eigen::Matrix<double, 9, 1> v = svd.matrixV().col(8);
  Matrix3 h;
  h << v(0), v(1), v(2), v(3), v(4), v(5), v(6), v(7), v(8);
  // The centroid is in the picture, so it does not map to infinity; a singular map is no map.
  if (!(std::abs(h(2, 2)) > kDegenerate)) return std::nullopt;
  h /= h(2, 2);
  if (!(std::abs(h.determinant()) > kDegenerate)) return std::nullopt;
  return h;
}

/// Sum of squared distances; with `jtj` and `jtr`, the normal equations over the first eight elements too.
double misfit(const Matrix3& h, const Normal& from, const Normal& to, Eigen::Matrix<double, 8, 8>* jtj,
              Eigen::Matrix<double, 8, 1>* jtr) {
  double sum = 0;
  if (jtj != nullptr) jtj->setZero(), jtr->setZero();
  for (std::size_t i = 0; i < from.points.size(); ++i) {
    const auto& p = from.points[i];
    const Eigen::Vector3d m = h * Eigen::Vector3d(p.x(), p.y(), 1);
    const double x = m(0) / m(2), y = m(1) / m(2);
    const double rx = to.points[i].x() - x, ry = to.points[i].y() - y;
    sum += rx * rx + ry * ry;
    if (jtj == nullptr) continue;
    const double u = p.x() / m(2), v = p.y() / m(2), w = 1 / m(2);
    Eigen::Matrix<double, 8, 1> jx, jy;
    jx << u, v, w, 0, 0, 0, -x * u, -x * v;
    jy << 0, 0, 0, u, v, w, -y * u, -y * v;
    *jtj += jx * jx.transpose() + jy * jy.transpose();
    *jtr += jx * rx + jy * ry;
  }
  return sum;
}

Matrix3 refined(Matrix3 h, const Normal& from, const Normal& to) {
  Eigen::Matrix<double, 8, 8> jtj;
  Eigen::Matrix<double, 8, 1> jtr;
  double best = misfit(h, from, to, &jtj, &jtr);
  for (int pass = 0; pass < kPasses; ++pass) {
    const Eigen::Matrix<double, 8, 1> step = jtj.ldlt().solve(jtr);
    if (!step.allFinite()) break;
    Matrix3 next = h;
    for (int k = 0; k < 8; ++k) next(k / 3, k % 3) += step(k);
    const double now = misfit(next, from, to, &jtj, &jtr);
    if (!(now < best)) break;
    const bool over = best - now < 1e-14 * best;
    h = next, best = now;
    if (over) break;
  }
  return h;
}
}  // namespace

Point Homography::at(Point p) const noexcept {
  const double w = h[6] * p.x + h[7] * p.y + h[8];
  return {(h[0] * p.x + h[1] * p.y + h[2]) / w, (h[3] * p.x + h[4] * p.y + h[5]) / w};
}

std::array<double, 4> Homography::derivative(Point p) const noexcept {
  const double w = h[6] * p.x + h[7] * p.y + h[8];
  const Point q = at(p);
  return {(h[0] - q.x * h[6]) / w, (h[1] - q.x * h[7]) / w, (h[3] - q.y * h[6]) / w, (h[4] - q.y * h[7]) / w};
}

std::optional<HomographyFit> fit_homography(std::span<const Point> from, std::span<const Point> to) {
  if (from.size() != to.size() || from.size() < 4) return std::nullopt;
  const auto f = normalised(from), t = normalised(to);
  if (!f || !t) return std::nullopt;
  const auto first = direct(*f, *t);
  if (!first) return std::nullopt;
  const Matrix3 best = refined(*first, *f, *t);
  Matrix3 h = t->t.inverse() * best * f->t;
  if (!h.allFinite() || !(std::abs(h(2, 2)) > 0)) return std::nullopt;
  h /= h(2, 2);
  HomographyFit out;
  for (int k = 0; k < 9; ++k) out.map.h[static_cast<std::size_t>(k)] = h(k / 3, k % 3);
  out.n = static_cast<int>(from.size());
  double sum = 0;
  for (std::size_t i = 0; i < from.size(); ++i) {
    const Point q = out.map.at(from[i]);
    sum += (q.x - to[i].x) * (q.x - to[i].x) + (q.y - to[i].y) * (q.y - to[i].y);
  }
  if (from.size() > 4) out.rms = std::sqrt(sum / static_cast<double>(2 * from.size() - 8));
  return out;
}
}  // namespace hb::kernel
