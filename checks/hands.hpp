/// Whoever moves the phone and looks at it: the technician, or an automatic fixture. Part of the contract of
/// checks (checks/check.hpp). Threads: as checks/check.hpp.
#pragma once

#include "harness/base/gate.hpp"
#include "harness/net/clock.hpp"

namespace hb::checks {

/// A thing for hands to do: the technician's, or an automatic fixture's.
enum class Deed {
  leave_alone,   ///< lay the phone down, touch nothing; amount: seconds
  sweep_panel,   ///< run a finger over the whole panel `part`, edge to edge, row by row; then the guided
                 ///< strokes
  fold_cycles,   ///< from flat: close fully, open fully, `amount` times, a short stop at both ends
  hold_at_stop,  ///< hold the hinge at `amount` degrees (0 closed, 90 against the square, 180 flat)
  place_on_pad,  ///< unplug any cable and lay the phone centred on the charging pad
  shift_on_pad,  ///< push it `amount` mm off centre
  lift_from_pad,
  point_at_chart,  ///< aim the camera `part` at the bench's chart, filling the frame; `amount`: 0 the first
                   ///< time, else what was wrong with the last picture (checks/chart_seen.hpp)
  allow_on_page,   ///< tap "Start" and then "Allow" on the phone's own page
  unfold,
  fold,         ///< leave it flat, or closed
  press_keys,   ///< press the key `part` `amount` times, shortly and slowly
  lay_on_face,  ///< lay it still on one of its six faces, `amount` 1..6 by what points up in the platform's
                ///< sensor axes: 1 screen (+z), 2 back (-z), 3 top edge (+y), 4 bottom edge (-y),
                ///< 5 right edge (+x), 6 left edge (-x); it stays there until the next deed
  plug_in,      ///< plug the bench's charger in, whatever was in before taken out; `amount` 1 the first way
                ///< round, 2 turned over
  wiggle_plug,  ///< move the plug gently in the port, all ways, for `amount` seconds
  unplug,       ///< take the charger out and leave the phone as it was
  cover_top,    ///< a finger over the top of the screen, there until the next deed
  cover_light,  ///< a finger over the camera `part` and its light, there until the next deed or for 5 s;
                ///< `amount` 1: once more, nothing was seen of the light
  mark_fields  ///< look at the `amount` full-screen fields of the phone's page on the panel `part`, one after
               ///< the other, and tap what is wrong on each; the phone lies open or closed as that panel
               ///< needs
};
[[nodiscard]] Term name(Deed d) noexcept;

struct Ask {
  Deed deed;
  ShopText part;
  double amount = 0;
};

/// A thing for eyes. The answer is a number: millimetres, a count, or 1 for yes and 0 for no. Whatever comes
/// of it is observed, not measured, and must be named so.
enum class Sight {
  widest_gap,     ///< widest gap along the edge of `part`, by feeler gauge; mm
  screws,         ///< screws seen in the group `part`; a count
  seated,         ///< the cover `part` sits flush all round; yes or no
  colour_agreed,  ///< the colour of `part` is the agreed one; yes or no
  new_adhesive,   ///< new adhesive was used under `part`; yes or no
  buzzed,         ///< the phone was felt or heard to vibrate just now; yes or no
  sim_in,         ///< the bench's SIM is in, its tray pushed home; yes or no
  nfc_on          ///< NFC is switched on in the phone's settings; yes or no
};
[[nodiscard]] Term name(Sight s) noexcept;

struct Question {
  Sight sight;
  ShopText part;
};

/// Whoever moves the phone. begin() tells them; done() says whether they have finished. A check polls
/// between its readings, so that one person or one fixture works for every check.
class Hands {
 public:
  virtual ~Hands() = default;
  [[nodiscard]] virtual net::awaitable<Result<void>> begin(Ask ask) = 0;
  [[nodiscard]] virtual net::awaitable<Result<bool>> done() = 0;
  /// The check has seen all it needs: the deed may stop (a prompt disappears).
  [[nodiscard]] virtual net::awaitable<Result<void>> enough() = 0;
  /// Asks for a look and waits for the answer. unsupported: these hands have no eyes.
  [[nodiscard]] virtual net::awaitable<Result<double>> observe(Question question);
};

}  // namespace hb::checks
