/// What a panel shows where its pixels do not do as they are told, and how much of it an eye can see.
///
/// Light of a primary at a flaw: max(floor, gain x drive), all relative to full drive, linear. Contrast of
/// something small is the Weber fraction of its luminance (weights of BT.709) over that of the field and of
/// what the eye is adapted to at least; it is diluted by what lies below the eye's resolution of one arc
/// minute at 30 cm, 0.087 mm. A patch also shows by its colour (common practice, no source).
/// Threads: value types; pure.
#pragma once

#include <array>
#include <cstdint>
#include <string_view>
#include <vector>

#include "tools/standin/physics/faults.hpp"
#include "tools/standin/physics/model.hpp"

namespace hb::standin {
enum class Flaw { dot, column, row, patch };

struct PanelFlaw {
  Flaw kind = Flaw::dot;
  double x_mm = 0, y_mm = 0;  ///< centre, from the top left corner
  double w_mm = 0, h_mm = 0;  ///< of a patch
  std::array<double, 3> gain{1, 1, 1}, floor{};
  double bend = 0;  ///< contrast of straight lines that look bent here
};

struct PanelLook {
  PanelSpec spec;
  double unevenness = 0.005;  ///< share of the luminance, all over; too smooth to be seen
  std::vector<PanelFlaw> flaws;
};

/// Linear drive of the primaries on a field of the phone's page (checks/fields.hpp names them) at height y of
/// 0..1.
[[nodiscard]] std::array<double, 3> field_drive(std::string_view field, double y) noexcept;
/// Contrast of a flaw on a field, 0..; kJustSeen is the least that a careful look finds.
[[nodiscard]] double contrast(const PanelLook& panel, const PanelFlaw& flaw, std::string_view field) noexcept;
inline constexpr double kJustSeen = 0.03;

/// The panels of one unit, in the order of the model: spread of manufacture by seed (about one panel in
/// eight has one dark sub-pixel) and faults.
[[nodiscard]] std::vector<PanelLook> make_panel_looks(const ModelSpec& model, std::uint64_t seed,
                                                      const Faults& faults);
}  // namespace hb::standin
