#include <algorithm>
#include <cmath>

#include "checks/cameras/cameras.hpp"
#include "checks/kernel/lab.hpp"
#include "checks/kernel/summary.hpp"
#include "judge.hpp"

namespace hb::checks {
namespace camera {

const Cameras::CameraCapture* capture_of(const Cameras::Capture& c, const Cameras::Camera& camera) {
  for (const auto& one : c.cameras)
    if (one.part == camera.name.str()) return &one;
  return nullptr;
}

int reachable(const Cameras::Capture& c, Facing facing) noexcept {
  return facing == Facing::back ? c.page_back : c.page_front;
}
int expected(const Cameras::Config& config, Facing facing) noexcept {
  int n = 0;
  for (const auto& camera : config.cameras)
    if (camera.facing == facing) n = std::max(n, camera.index + 1);
  return n;
}
bool counted_anew(const Cameras::Capture& c, const Cameras::Config& config, Facing facing) noexcept {
  const int n = reachable(c, facing);
  return n > 0 && n < expected(config, facing);
}

std::vector<PixelLook> looks_of(const Cameras::CameraCapture& c) {
  std::vector<PixelLook> looks;
  for (const auto& f : c.frames) looks.push_back(f.pixels);
  return looks;
}
Standing standing(const Cameras::CameraCapture& c, const Cameras::Camera& camera) {
  return standing(looks_of(c), c.elsewhere, camera.width, camera.height);
}

bool well_formed(const Cameras::CameraCapture& c) {
  if ((c.present && c.frames.empty()) || !well_formed(c.focus) || !well_formed(c.light)) return false;
  const std::size_t stayed = c.elsewhere.empty() ? 0 : staying(looks_of(c)).size();
  for (const auto& look : c.elsewhere)
    if (look.at.size() != stayed) return false;
  return std::all_of(c.frames.begin(), c.frames.end(), [](const Cameras::FrameNumbers& f) {
    if (f.seen != Cameras::Seen::measured) return true;
    for (std::size_t k = 0; k < 5; ++k)
      if (f.sfr[k].size() != Cameras::kCurvePoints || !(f.mtf50_cpp[k] > 0) || !(f.u_mtf50_cpp[k] > 0))
        return false;
    return f.level > 0;
  });
}
}  // namespace camera

namespace {
using Frames = std::vector<Cameras::FrameNumbers>;
constexpr double kTrapReflectance_u = 0.004;  // of the printed trap, linear: common practice, no source
constexpr double kGround_u = 0.02;            // chart ground and bench light, relative: the same

struct Value {
  double value = 0, u = 0;
};

/// Mean over the frames of tile `k`; u from their spread and from the edges' own uncertainty, which has
/// a part common to all frames and is therefore not divided by their number.
Value mtf50(const Frames& frames, std::size_t k) {
  std::vector<double> v, u;
  for (const auto& f : frames) v.push_back(f.mtf50_cpp[k]), u.push_back(f.u_mtf50_cpp[k]);
  return {kernel::mean(v), std::hypot(kernel::mean_uncertainty(v), kernel::mean(u))};
}

template <class F>
Value over_frames(const Frames& frames, F number) {
  std::vector<double> v;
  for (const auto& f : frames) v.push_back(number(f));
  return {kernel::mean(v), kernel::mean_uncertainty(v)};
}

Value mean_of(Value a, Value b) { return {(a.value + b.value) / 2, std::hypot(a.u, b.u) / 2}; }

/// Smaller over larger.
Value ratio(Value a, Value b) {
  if (a.value > b.value) std::swap(a, b);
  const double r = a.value / b.value;
  return {r, r * std::hypot(a.u / a.value, b.u / b.value)};
}

/// Left against right and top against bottom: the worse of both.
Value balance(const std::array<Value, 5>& m) {
  const Value sides = ratio(mean_of(m[1], m[3]), mean_of(m[2], m[4]));
  const Value ends = ratio(mean_of(m[1], m[2]), mean_of(m[3], m[4]));
  return sides.value < ends.value ? sides : ends;
}

/// Veil over ground light, percent: with t and b the trap's and the ground's reflectance and v the veil in
/// the same unit, the picture shows q = (t + v) / (b + v), so v / b = (q - t / b) / (1 - q).
Value glare_pct(const Frames& frames, const Cameras::Chart& chart) {
  const double true_ratio = chart.trap / chart.ground;
  Value g = over_frames(frames, [&](const auto& f) {
    const double q = std::min(f.trap_ratio, 0.999);
    return 100 * (q - true_ratio) / (1 - q);
  });
  g.u = std::hypot(g.u, 100 * kTrapReflectance_u / chart.ground);
  return g;
}

/// The ground against a grey of its own lightness: what white balance left over.
Value white_delta(const Frames& frames) {
  Value d = over_frames(frames, [](const auto& f) {
    return kernel::ciede2000({f.lab[0], f.lab[1], f.lab[2]}, {f.lab[0], 0, 0});
  });
  d.u = std::hypot(d.u, 0.5);  // the chart's and the light's own neutrality: common practice, no source
  return d;
}

Value shading_asymmetry_pct(const Frames& frames) {
  Value s = over_frames(frames, [](const auto& f) {
    const auto [low, high] = std::minmax_element(f.corner.begin(), f.corner.end());
    const double sum = f.corner[0] + f.corner[1] + f.corner[2] + f.corner[3];
    return sum > 0 ? 100 * (*high - *low) / (sum / 4) : 0;
  });
  s.u = std::hypot(s.u, 100 * kGround_u);
  return s;
}

Plot plot_of(const Frames& frames, const ShopText& part, std::size_t worst) {
  Plot p;
  p.kind = "sfr";
  p.part = part;
  Series frequency{"frequency", "cycles/px", {}}, centre{"centre", "1", {}}, corner{"worst", "1", {}};
  const double n = static_cast<double>(frames.size());
  for (std::size_t i = 0; i < Cameras::kCurvePoints; ++i) {
    double a = 0, b = 0;
    for (const auto& f : frames) a += f.sfr[0][i] / n, b += f.sfr[worst][i] / n;
    frequency.values.push_back(static_cast<double>(i) / 64);
    centre.values.push_back(a);
    corner.values.push_back(b);
  }
  p.series = {std::move(frequency), std::move(centre), std::move(corner)};
  return p;
}

void measure_frames(const Frames& frames, const ShopText& part, const Cameras::Chart& chart, Measured& out) {
  const auto n = static_cast<std::int64_t>(frames.size());
  const auto add = [&](Term key, Value v, Term unit) {
    out.measures.push_back({key, part, v.value, v.u, unit, n});
  };
  std::array<Value, 5> m;
  for (std::size_t k = 0; k < 5; ++k) m[k] = mtf50(frames, k);
  const auto worst = std::min_element(m.begin() + 1, m.end(),
                                      [](const Value& a, const Value& b) { return a.value < b.value; });
  add("cameras.mtf50_centre_cpp", m[0], "cycles/px");
  add("cameras.mtf50_worst_corner_cpp", *worst, "cycles/px");
  add("cameras.corner_balance", balance(m), "1");
  add("cameras.glare_pct", glare_pct(frames, chart), "%");
  add("cameras.white_delta_e00", white_delta(frames), "dE00");
  add("cameras.shading_asymmetry_pct", shading_asymmetry_pct(frames), "%");
  add("cameras.frames", {static_cast<double>(n), 0}, "1");
  out.plots.push_back(plot_of(frames, part, static_cast<std::size_t>(worst - m.begin())));
}

/// Spots of the camera's own. Counted as they were found, not scaled to the part that was not searched: what
/// was found is exact, but for the ones that may be the chart's (between none and all of them, rectangular)
/// and the ones that chance may have put there.
void measure_pixels(const Cameras::CameraCapture& c, const Cameras::Camera& camera, Measured& out) {
  const auto s = camera::standing(c, camera);
  const auto n = static_cast<std::int64_t>(c.frames.size() + c.elsewhere.size());
  out.measures.push_back(
      {"cameras.pixels_searched_pct", camera.name, 100 * s.searched, 100 * s.u_searched, "%", n});
  if (s.searched < camera::kLeastSearched) {
    out.missing =
        "too little of a camera's picture is even enough to be searched for stuck pixels: go nearer to the "
        "chart, or clear the wall behind it";
    return;
  }
  const double chance = s.chance > 1e-3 ? s.chance + std::sqrt(s.chance) : 0;
  out.measures.push_back({"cameras.stuck_pixels", camera.name, s.on_sensor + 0.5 * s.undecided,
                          std::hypot(s.undecided / std::sqrt(12.0), chance), "1", n});
}

}  // namespace

Result<Measured> Cameras::measure(const Capture& capture, const Config& config) {
  Measured m;
  if (capture.listed >= 0)
    m.measures.push_back({"cameras.listed", {}, static_cast<double>(capture.listed), 0, "1", 1});
  std::optional<Seen> unseen;
  for (const Camera& camera : config.cameras) {
    const auto* c = camera::capture_of(capture, camera);
    if (c == nullptr || !camera::well_formed(*c))
      return Error{ErrorCode::bad_format, "the camera capture is torn", camera.name.str(),
                   "Run the check again."};
    const bool anew = camera::counted_anew(capture, config, camera.facing);
    const double present = c->present ? 1.0
                           : anew     ? static_cast<double>(camera::reachable(capture, camera.facing)) /
                                        camera::expected(config, camera.facing)
                                  : 0.0;
    m.measures.push_back({"cameras.present", camera.name, present, 0, "1", 1});
    if (!c->present) continue;
    camera::measure_light(*c, camera, m);
    const auto bad = std::find_if(c->frames.begin(), c->frames.end(),
                                  [](const auto& f) { return f.seen != Seen::measured; });
    if (bad == c->frames.end()) {
      measure_frames(c->frames, camera.name, config.chart, m);
      measure_pixels(*c, camera, m);
      camera::measure_focus(*c, camera, config.chart, m);
    } else if (!unseen) {
      unseen = bad->seen;
    }
  }
  // A bad shot is no fault of a camera: its measures are missing, so it is not tested, and the reason says
  // what to change. What the other cameras showed is judged all the same.
  if (unseen) m.missing = to_change(*unseen);
  return m;
}
}  // namespace hb::checks
