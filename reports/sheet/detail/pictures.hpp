/// The pictures of a record. Each gives nothing when its plot lacks what it needs.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "drawing.hpp"
#include "language.hpp"
#include "view.hpp"

namespace hb::sheet {

struct Frame {
  double w = 165, h = 118;  ///< the drawing's size
  double text = 6.6;        ///< size of its labels
};

/// All touch maps of one check side by side at one scale, with the fold line and a legend.
[[nodiscard]] std::optional<Drawing> touch_picture(const CheckView& check, const Frame& frame,
                                                   const Language& l);

/// All panels on which something was marked, and those beside them, at one scale.
[[nodiscard]] std::optional<Drawing> defect_picture(const CheckView& check, const Frame& frame,
                                                    const Language& l);

struct Curve {
  std::string name;
  std::vector<double> x, y;
};
struct Guide {
  double y = 0;
  std::string name;
};
struct ChartText {
  std::string title, description, x_label, y_label;
};
struct ChartRange {
  std::optional<double> y_min, y_max;
  std::vector<double> y_ticks;  ///< empty: chosen
};
/// Lines over a common axis, each named at its end and with a dash of its own.
[[nodiscard]] Drawing line_chart(const std::vector<Curve>& curves, const std::vector<Guide>& guides,
                                 const ChartText& text, const ChartRange& range, const Frame& frame,
                                 const Language& l);

[[nodiscard]] std::optional<Drawing> hinge_picture(const CheckView& check, const Frame& frame,
                                                   const Language& l);
/// Voltages above, currents below; one alone fills the frame.
[[nodiscard]] std::optional<Drawing> battery_picture(const CheckView& check, const Frame& frame,
                                                     const Language& l);
[[nodiscard]] std::optional<Drawing> charge_picture(const CheckView& check, const Frame& frame,
                                                    const Language& l);
/// One chart a camera.
[[nodiscard]] std::vector<Drawing> sharpness_pictures(const CheckView& check, const Frame& frame,
                                                      const Language& l);

struct Picture {
  std::string caption;
  Drawing drawing;
};
/// All pictures of a view in the order touch, faults seen, hinge, batteries, charging, cameras; at most
/// `most`.
[[nodiscard]] std::vector<Picture> pictures(const View& view, const Frame& frame, std::size_t most,
                                            const Language& l);

}  // namespace hb::sheet
