#include "tools/standin/physics/panel.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <tuple>

#include "tools/standin/physics/noise.hpp"

namespace hb::standin {
namespace {
using Rgb = std::array<double, 3>;
constexpr Rgb kWeights{0.2126, 0.7152, 0.0722};
constexpr double kAdapted = 0.02, kResolved_mm = 0.087;
constexpr double kCreaseDuty = 1.0 / 6;  // white in the pattern of lines
constexpr double kApart_mm = 14;         // dots that a finger can still tell apart
constexpr double kOffFold_mm = 18;

double luminance(const Rgb& c) noexcept {
  return kWeights[0] * c[0] + kWeights[1] * c[1] + kWeights[2] * c[2];
}

/// One primary of a dark or a lit sub-pixel.
PanelFlaw sub_pixel(double x, double y, std::size_t primary, double lit) {
  PanelFlaw f;
  f.x_mm = x, f.y_mm = y;
  f.gain[primary] = lit > 0 ? 1 : 0;
  f.floor[primary] = lit;
  return f;
}

double fold_y_mm(const PanelSpec& s) { return *s.fold_y_px / s.height_px * s.height_mm; }

/// A place off the edge, off the fold, and off the other dots.
std::pair<double, double> free_place(const PanelLook& p, const Noise& spread, std::uint64_t n) {
  double x = 0, y = 0;
  for (std::uint64_t k = 0; k < 40; ++k) {
    x = spread.uniform(n + 2 * k, 6, p.spec.width_mm - 6);
    y = spread.uniform(n + 2 * k + 1, 6, p.spec.height_mm - 6);
    const bool on_fold = p.spec.fold_y_px && std::abs(y - fold_y_mm(p.spec)) < kOffFold_mm;
    const bool near = std::any_of(p.flaws.begin(), p.flaws.end(), [&](const PanelFlaw& f) {
      return f.kind == Flaw::dot && std::hypot(f.x_mm - x, f.y_mm - y) < kApart_mm;
    });
    if (!on_fold && !near) break;
  }
  return {x, y};
}

void open_line(PanelLook& p, const Noise& spread, double d) {
  PanelFlaw f;
  f.kind = Flaw::column;
  f.x_mm = spread.uniform(0, 0.15, 0.85) * p.spec.width_mm;
  f.y_mm = p.spec.height_mm / 2;
  if (spread.uniform(1) < 0.5)
    f.floor = {d, d, d};
  else
    f.gain = {1 - d, 1 - d, 1 - d};
  p.flaws.push_back(f);
}

/// A ring of dots of different colours about one place.
void stuck_cluster(PanelLook& p, const Noise& spread, double d) {
  const int n = static_cast<int>(std::ceil(5 * d));
  const double x = spread.uniform(10, 0.35, 0.65) * p.spec.width_mm, y = 0.24 * p.spec.height_mm;
  for (int i = 0; i < n; ++i) {
    const double angle = 2 * std::numbers::pi * i / 5;
    const auto primary = static_cast<std::size_t>(spread.uniform(11 + static_cast<std::uint64_t>(i)) * 3);
    p.flaws.push_back(sub_pixel(x + 12.5 * std::cos(angle), y + 12.5 * std::sin(angle), primary, d));
  }
}

void dark_pixels(PanelLook& p, const Noise& spread, double d) {
  const int n = static_cast<int>(std::ceil(6 * d));
  for (int i = 0; i < n; ++i) {
    PanelFlaw f;
    std::tie(f.x_mm, f.y_mm) = free_place(p, spread, 1000 + 100 * static_cast<std::uint64_t>(i));
    f.gain = {0, 0, 0};
    p.flaws.push_back(f);
  }
}

PanelFlaw patch(double x, double y, double w, double h) {
  PanelFlaw f;
  f.kind = Flaw::patch;
  f.x_mm = x, f.y_mm = y, f.w_mm = w, f.h_mm = h;
  return f;
}
}  // namespace

Rgb field_drive(std::string_view field, double y) noexcept {
  constexpr double gamma = 2.2;
  if (field == "white") return {1, 1, 1};
  if (field == "red") return {1, 0, 0};
  if (field == "green") return {0, 1, 0};
  if (field == "blue") return {0, 0, 1};
  double grey = 0;
  if (field == "ramp") grey = std::pow(std::clamp(y, 0.0, 1.0), gamma);
  if (field == "grey") grey = std::pow(128.0 / 255, gamma);
  if (field == "crease") grey = kCreaseDuty;
  return {grey, grey, grey};
}

double contrast(const PanelLook& panel, const PanelFlaw& flaw, std::string_view field) noexcept {
  const Rgb drive = field_drive(field, flaw.y_mm / panel.spec.height_mm);
  const bool crease = field == "crease";
  if (crease && flaw.kind != Flaw::patch) return 0;  // lost among the lines
  Rgb change{};
  for (std::size_t c = 0; c < 3; ++c) change[c] = std::max(flaw.floor[c], flaw.gain[c] * drive[c]) - drive[c];
  const double weber = std::abs(luminance(change)) / (luminance(drive) + kAdapted);
  const double pitch_mm = panel.spec.width_mm / panel.spec.width_px;
  const double share = std::min(1.0, pitch_mm / kResolved_mm);
  if (flaw.kind == Flaw::dot) return weber * share * share;
  if (flaw.kind != Flaw::patch) return weber * share;
  double colour = 0;
  for (const double c : change) colour = std::max(colour, std::abs(c));
  colour /= *std::max_element(drive.begin(), drive.end()) + kAdapted;
  return std::max({weber, colour, crease ? flaw.bend : 0.0});
}

std::vector<PanelLook> make_panel_looks(const ModelSpec& model, std::uint64_t seed, const Faults& faults) {
  const Noise spread(seed, "panel looks");
  std::vector<PanelLook> all;
  for (std::size_t i = 0; i < model.panels.size(); ++i)
    all.push_back({model.panels[i], spread.uniform(i, 0.002, 0.008), {}});
  PanelLook& p = all.front();
  const double w = p.spec.width_mm, h = p.spec.height_mm;
  if (spread.uniform(20) < 0.125) {
    const auto [x, y] = free_place(p, spread, 100);
    p.flaws.push_back(sub_pixel(x, y, static_cast<std::size_t>(spread.uniform(21) * 2), 0));
  }
  if (const double d = faults.degree(Fault::panel_line_open); d > 0) open_line(p, spread, d);
  if (const double d = faults.degree(Fault::panel_stuck_pixels); d > 0) stuck_cluster(p, spread, d);
  if (const double d = faults.degree(Fault::panel_dark_pixels); d > 0) dark_pixels(p, spread, d);
  if (const double d = faults.degree(Fault::panel_tint); d > 0) {
    p.flaws.push_back(patch(0.3 * w, 0.75 * h, 0.4 * w, 0.2 * h));
    p.flaws.back().gain[1] = 1 - 0.08 * d;
  }
  if (const double d = faults.degree(Fault::panel_fold_lifted); d > 0 && p.spec.fold_y_px) {
    p.flaws.push_back(patch(0.5 * w, fold_y_mm(p.spec), 0.7 * w * d, 8));
    p.flaws.back().floor = {0.004 * d, 0.004 * d, 0.004 * d};  // the lifted layer mirrors the room
    p.flaws.back().bend = 0.5 * d;
  }
  if (const double d = faults.degree(Fault::panel_black_blob); d > 0) {
    PanelLook& hit = all[seed % all.size()];
    const double across = 5 + 7 * d;
    hit.flaws.push_back(patch(0.7 * hit.spec.width_mm, 0.3 * hit.spec.height_mm, across, across));
    hit.flaws.back().gain = {0.02, 0.02, 0.02};
  }
  return all;
}
}  // namespace hb::standin
