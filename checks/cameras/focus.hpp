/// Whether a lens follows its focus motor: the blur of the chart's middle tile at several settings. Pure; any
/// thread. Dioptres ("dpt") are 1 / metres.
#pragma once

#include <optional>
#include <span>
#include <vector>

#include "checks/action/chart_seen.hpp"
#include "checks/page_port.hpp"
#include "held.hpp"

namespace hb::checks::camera {

/// One picture at one setting, as numbers.
struct FocusFrame {
  double focus_m = 0;  ///< the distance that was asked for
  ChartSeen seen = ChartSeen::no_chart;
  double blur_px = 0, u_blur_px = 0;  ///< Gaussian sigma of the same MTF50
  double scale = 0;                   ///< chart's height over the frame's
};
struct FocusCapture {
  bool offered = false;  ///< the browser sets this camera's focus
  std::vector<FocusFrame> frames;
};

/// Total: any frame gives numbers or a reason. Works on edges that are far too soft for a sharpness check:
/// up to a blur of about a twelfth of a tile's side.
[[nodiscard]] FocusFrame read_focus(const Frame& frame, const Chart& chart, double view_deg);
/// Measured frames have a setting, a blur and its uncertainty.
[[nodiscard]] bool well_formed(const FocusCapture& capture);

struct FocusFit {
  double px_per_dpt = 0, u_px_per_dpt = 0;  ///< blur that a dioptre more or less makes, far from the best
  std::optional<double> best_dpt;           ///< the setting that is sharpest; nullopt: none can be told
  double u_best_dpt = 0;
  int frames = 0;
};
/// A thin lens of opening A that is set to D dioptres sees a point at Dc dioptres as a disc of diameter
/// A f |D - Dc| (f: focal length in pixels), and independent blurs add by their variances. So the blur
/// squared is a parabola in D, and the root of its curvature is A f / 4, whatever the chart's distance and
/// however soft the lens is at its best; a lens that stays where it is gives a flat line, one that goes half
/// the way half the root. Weighted least squares; u from the larger of what the frames state and what they
/// scatter about the parabola. nullopt: less than three settings, or five frames, were read. Source of the
/// disc: similar triangles behind a thin lens, any textbook of optics; a disc's standard deviation along a
/// line is a quarter of its diameter.
[[nodiscard]] std::optional<FocusFit> fit_focus(std::span<const FocusFrame> frames);

/// 1 / the chart's distance by its size in the frame; 0 when the chart's real height is not known.
[[nodiscard]] double chart_dpt(const Chart& chart, double scale, int width, int height,
                               double view_deg) noexcept;

void to_json(nlohmann::json& j, const FocusCapture& c);
void from_json(const nlohmann::json& j, FocusCapture& c);

}  // namespace hb::checks::camera
