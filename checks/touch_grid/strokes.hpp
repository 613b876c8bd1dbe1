/// The contacts of one sweep as strokes in panel millimetres, and what can be read from them.
/// Pure; any thread.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "checks/touch_grid/touch_grid.hpp"
#include "touch_map.hpp"

namespace hb::checks::touch {

struct Stroke {
  std::vector<std::int64_t> t_us;
  std::vector<At> at;
  std::int64_t up_us = -1;
  [[nodiscard]] double chord_mm() const noexcept { return at.empty() ? 0 : distance(at.front(), at.back()); }
};

/// Contacts that began in [from_us, to_us], in the order in which they began. Precondition: well formed.
[[nodiscard]] std::vector<Stroke> strokes(const TouchGrid::DisplayCapture& c, const TouchGrid::Display& d,
                                          std::int64_t from_us, std::int64_t to_us);

/// Arrays of equal length, known contacts, times in order. The rest of this header presumes it.
[[nodiscard]] bool well_formed(const TouchGrid::DisplayCapture& c);

struct Straightness {
  double rms_mm = 0, u_rms_mm = 0;  ///< orthogonal least squares, pooled over the slanted strokes
  double jitter_mm = 0,
         u_jitter_mm = 0;  ///< from second differences: the digitizer's noise without the hand's bend
  int n = 0;
};
/// The guided strokes: straight pieces of at least 25 mm that lie at least 12 degrees off both axes (the
/// sweep's own strokes run along an axis). nullopt: none.
[[nodiscard]] std::optional<Straightness> straightness(const std::vector<Stroke>& all);

struct Rate {
  double hz = 0, u_hz = 0;
  int n = 0;
};
/// Median time between successive reports of one moving contact. nullopt: fewer than 20 intervals.
[[nodiscard]] std::optional<Rate> report_rate(const std::vector<Stroke>& all);

/// Largest number of contacts that were down together.
[[nodiscard]] int contacts_at_once(const std::vector<Stroke>& all);

/// Strokes that ended inside the panel and went on ahead of themselves at once (within 0.25 s and 30 mm,
/// within 20 degrees of their direction): the digitizer lost the finger. Not counted over dropped stretches.
[[nodiscard]] int lost_contacts(const std::vector<Stroke>& all, const TouchGrid::DisplayCapture& c,
                                const TouchGrid::Display& d);

/// Distance of the outermost reports from each edge, mm, over strokes of at least 10 mm (a stray contact
/// cannot vouch for an edge). nullopt: no such stroke.
struct Edges {
  double left = 0, top = 0, right = 0, bottom = 0;
  [[nodiscard]] double worst() const noexcept;
};
[[nodiscard]] std::optional<Edges> edge_reach(const std::vector<Stroke>& all, const TouchGrid::Display& d);

}  // namespace hb::checks::touch
