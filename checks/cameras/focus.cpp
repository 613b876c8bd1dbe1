#include "focus.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>
#include <set>

#include "checks/kernel/summary.hpp"
#include "edges.hpp"
#include "ground.hpp"

namespace hb::checks::camera {
namespace {
constexpr double kShape_u = 0.03;  // a lens's blur is no Gaussian: relative, our choice

/// The response's window makes soft edges look sharper, by 9 (sigma / width)^2 of themselves
/// (kernel/esfr.hpp).
double without_window(double seen_px, int width) {
  double own = seen_px;
  for (int pass = 0; pass < 4; ++pass)
    own = seen_px * (1 + 9 * own * own / (static_cast<double>(width) * width));
  return own;
}

struct Sample {
  double dpt, blur2, u;  // of the blur squared
};
std::vector<Sample> samples_of(std::span<const FocusFrame> frames) {
  std::vector<Sample> all;
  for (const auto& f : frames) {
    if (f.seen != ChartSeen::measured) continue;
    const double u = std::hypot(f.u_blur_px, kShape_u * f.blur_px);
    all.push_back({1 / f.focus_m, f.blur_px * f.blur_px, 2 * f.blur_px * u});
  }
  return all;
}
}  // namespace

FocusFrame read_focus(const Frame& frame, const Chart& chart, double view_deg) {
  FocusFrame out;
  out.focus_m = frame.focus_m;
  if (!is_whole(frame) || !(frame.focus_m > 0)) return out;
  const kernel::Plane light = luminance(frame);
  const auto found = locate(light, chart);
  if (found.cut_off) out.seen = ChartSeen::cut_off;
  if (!found.chart) return out;
  out.seen = ChartSeen::edges_unreadable;
  const auto held = outline(light, chart, *found.chart, view_deg);
  if (!held) return out;
  out.scale = held->pose.scale;
  std::vector<double> blur, u;
  for (const Edge& edge : usable_edges(*held)) {
    if (edge.tile != 0) continue;
    const auto roi = region(light, *held, edge);
    if (roi.values.empty()) continue;
    const auto e = kernel::esfr(roi);
    if (!e || !(e->mtf50_cpp > 0)) continue;
    const double seen = kernel::kGaussianMtf50 / e->mtf50_cpp,
                 own = without_window(seen, edge.near_vertical ? roi.width : roi.height);
    blur.push_back(own);
    u.push_back(
        std::hypot(own * e->u_mtf50_cpp / e->mtf50_cpp, 0.5 * (own - seen)));  // half of it: our choice
  }
  if (blur.empty()) return out;
  out.seen = ChartSeen::measured;
  out.blur_px = kernel::mean(blur);
  out.u_blur_px = std::hypot(kernel::mean(u), kernel::mean_uncertainty(blur));
  return out;
}

bool well_formed(const FocusCapture& capture) {
  return std::all_of(capture.frames.begin(), capture.frames.end(), [](const FocusFrame& f) {
    return f.seen != ChartSeen::measured || (f.focus_m > 0 && f.blur_px > 0 && f.u_blur_px > 0);
  });
}

std::optional<FocusFit> fit_focus(std::span<const FocusFrame> frames) {
  const auto samples = samples_of(frames);
  std::set<double> settings;
  double middle = 0;
  for (const auto& s : samples) settings.insert(s.dpt), middle += s.dpt / static_cast<double>(samples.size());
  if (settings.size() < 3 || samples.size() < 5) return std::nullopt;
  const auto rows = static_cast<Eigen::Index>(samples.size());
  Eigen::Matrix<double, Eigen::Dynamic, 3> a(rows, 3);
  Eigen::VectorXd y(rows);
  for (Eigen::Index i = 0; i < rows; ++i) {
    const auto& s = samples[static_cast<std::size_t>(i)];
    const double x = s.dpt - middle;
    a.row(i) << 1 / s.u, x / s.u, x * x / s.u;
    y[i] = s.blur2 / s.u;
  }
  const Eigen::Matrix3d normal = a.transpose() * a;
  Eigen::Matrix3d cov = normal.inverse();
  const Eigen::Vector3d p = cov * (a.transpose() * y);
  cov *= std::max(1.0, (a * p - y).squaredNorm() / static_cast<double>(rows - 3));
  if (!p.allFinite() || !cov.allFinite()) return std::nullopt;
  FocusFit fit;
  fit.frames = static_cast<int>(samples.size());
  const double curve = p[2], u_curve = std::sqrt(cov(2, 2));
  fit.px_per_dpt = std::sqrt(std::max(curve, 0.0));
  fit.u_px_per_dpt = u_curve / (2 * std::max(fit.px_per_dpt, std::sqrt(u_curve)));
  if (curve > 3 * u_curve) {
    fit.best_dpt = middle - p[1] / (2 * curve);
    const double by_b = -1 / (2 * curve), by_c = p[1] / (2 * curve * curve);
    fit.u_best_dpt =
        std::sqrt(by_b * by_b * cov(1, 1) + 2 * by_b * by_c * cov(1, 2) + by_c * by_c * cov(2, 2));
  }
  return fit;
}

double chart_dpt(const Chart& chart, double scale, int width, int height, double view_deg) noexcept {
  if (!(chart.height_mm > 0)) return 0;
  const double f_px = 0.5 * width / std::tan(0.5 * view_deg * std::numbers::pi / 180);
  return scale * height / (f_px * 1e-3 * chart.height_mm);
}

namespace {
void to_json(nlohmann::json& j, const FocusFrame& f) {
  j = {{"focus_m", f.focus_m},
       {"seen", static_cast<int>(f.seen)},
       {"blur_px", f.blur_px},
       {"u_blur_px", f.u_blur_px},
       {"scale", f.scale}};
}
FocusFrame frame_of(const nlohmann::json& j) {
  FocusFrame f;
  const int seen = j.at("seen").get<int>();
  // An unknown reason reads as "no chart": never as measured.
  f.seen = seen >= 0 && seen < kChartSeen ? static_cast<ChartSeen>(seen) : ChartSeen::no_chart;
  j.at("focus_m").get_to(f.focus_m);
  j.at("blur_px").get_to(f.blur_px);
  j.at("u_blur_px").get_to(f.u_blur_px);
  j.at("scale").get_to(f.scale);
  return f;
}
}  // namespace

void to_json(nlohmann::json& j, const FocusCapture& c) {
  auto frames = nlohmann::json::array();
  for (const auto& f : c.frames) {
    nlohmann::json one;
    to_json(one, f);
    frames.push_back(std::move(one));
  }
  j = {{"offered", c.offered}, {"frames", std::move(frames)}};
}
void from_json(const nlohmann::json& j, FocusCapture& c) {
  j.at("offered").get_to(c.offered);
  c.frames.clear();
  for (const auto& f : j.at("frames")) c.frames.push_back(frame_of(f));
}
}  // namespace hb::checks::camera
