#include "checks/hands.hpp"

namespace hb::checks {
Term name(Deed d) noexcept {
  switch (d) {
    case Deed::leave_alone:
      return "leave_alone";
    case Deed::sweep_panel:
      return "sweep_panel";
    case Deed::fold_cycles:
      return "fold_cycles";
    case Deed::hold_at_stop:
      return "hold_at_stop";
    case Deed::place_on_pad:
      return "place_on_pad";
    case Deed::shift_on_pad:
      return "shift_on_pad";
    case Deed::lift_from_pad:
      return "lift_from_pad";
    case Deed::point_at_chart:
      return "point_at_chart";
    case Deed::allow_on_page:
      return "allow_on_page";
    case Deed::unfold:
      return "unfold";
    case Deed::fold:
      return "fold";
    case Deed::press_keys:
      return "press_keys";
    case Deed::lay_on_face:
      return "lay_on_face";
    case Deed::plug_in:
      return "plug_in";
    case Deed::wiggle_plug:
      return "wiggle_plug";
    case Deed::unplug:
      return "unplug";
    case Deed::cover_top:
      return "cover_top";
    case Deed::cover_light:
      return "cover_light";
    case Deed::mark_fields:
      return "mark_fields";
  }
  return "leave_alone";
}

Term name(Sight s) noexcept {
  switch (s) {
    case Sight::widest_gap:
      return "widest_gap";
    case Sight::screws:
      return "screws";
    case Sight::seated:
      return "seated";
    case Sight::colour_agreed:
      return "colour_agreed";
    case Sight::new_adhesive:
      return "new_adhesive";
    case Sight::buzzed:
      return "buzzed";
    case Sight::sim_in:
      return "sim_in";
    case Sight::nfc_on:
      return "nfc_on";
  }
  return "seated";
}
}  // namespace hb::checks
