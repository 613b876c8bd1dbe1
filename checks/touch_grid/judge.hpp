/// What measure() and diagnose() both derive from one display's capture. Pure.
#pragma once

#include <vector>

#include "checks/kernel/regions.hpp"
#include "checks/touch_grid/touch_grid.hpp"
#include "strokes.hpp"
#include "touch_map.hpp"

namespace hb::checks::touch {

struct Judged {
  TouchMap map;
  kernel::Regions dead;
  std::vector<Stroke> sweep;  ///< contacts of the sweep
  int ghosts = 0;             ///< contacts that began while nobody touched
};
/// Precondition: well formed and found.
[[nodiscard]] Judged judged(const TouchGrid::DisplayCapture& c, const TouchGrid::Display& d);

/// The display's capture by name; nullptr if the capture has none.
[[nodiscard]] const TouchGrid::DisplayCapture* capture_of(const TouchGrid::Capture& c,
                                                          const TouchGrid::Display& d);

}  // namespace hb::checks::touch
