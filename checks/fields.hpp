/// Full-screen fields that the phone's page shows, and what a person marked on them. Part of the contract of
/// checks (checks/page_port.hpp). Threads: value types.
#pragma once

#include <functional>
#include <span>
#include <string_view>
#include <vector>

#include "harness/base/gate.hpp"

namespace hb::checks {

/// sRGB. white, black, red, green and blue at full drive; ramp: code values 0 at the top to 255 at the
/// bottom; grey: code value 128; crease: thin white lines on black from top to bottom, so that they cross a
/// fold that lies across.
enum class Field { white, black, red, green, blue, ramp, grey, crease };
inline constexpr int kFields = 8;
[[nodiscard]] Term name(Field f) noexcept;

/// `column` runs over the full height, `row` over the full width.
enum class MarkKind { dot, column, row, patch };
inline constexpr int kMarkKinds = 4;

/// Fractions of the panel from its top left corner, 0..1: the place that was tapped; of a patch that was
/// drawn as a box its centre, with the box's width and height (0: only tapped).
struct Mark {
  MarkKind kind = MarkKind::dot;
  double x = 0, y = 0, w = 0, h = 0;
  friend bool operator==(const Mark&, const Mark&) = default;
};
inline constexpr int kMarksPerField = 32;

/// What came of showing some fields.
struct FieldMarks {
  int width_px = 0, height_px = 0;       ///< of the screen that showed them
  std::vector<std::vector<Mark>> marks;  ///< by field, as asked for
};

struct FieldShow {
  std::vector<Field> fields;  ///< 1 to kFields, in the order in which they are shown
  /// Asked a few times a second while the person is at it; false ends the call as `cancelled`.
  std::function<bool()> wanted = [] { return true; };
};
}  // namespace hb::checks
