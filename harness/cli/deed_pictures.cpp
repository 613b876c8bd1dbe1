#include "deed_pictures.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

namespace hb::cli {
namespace {
constexpr std::string_view kSweep =
    "┌──────────────┐\n"
    "│ ────────────▶│\n"
    "│◀──────────── │   then   ╲ ╱ ─ │   ••\n"
    "│ ────────────▶│\n"
    "└──────────────┘\n";
constexpr std::string_view kCycles =
    "                 ╱\n"
    "━━━━●━━━━  ▶  ━━━●     ▶  ━━━●  ▶  and back\n"
    "                          ━━━\n";
constexpr std::string_view kClosed =
    "━━━━━━━━●\n"
    "━━━━━━━━\n";
constexpr std::string_view kSquare =
    "    ┃\n"
    "    ┃        the square inside\n"
    "    ●━━━━━━  the corner\n";
constexpr std::string_view kFlat = "━━━━━━━●━━━━━━━\n";
constexpr std::string_view kOnPad =
    "    ┌──────┐\n"
    "    │ ╭──╮ │   coil above coil,\n"
    "  ╭─┤ │ϟ │ ├─╮ nothing between\n"
    "  │ │ ╰──╯ │ │\n"
    "  ╰─┤      ├─╯\n"
    "    └──────┘\n";
constexpr std::string_view kShift =
    "       ┌──────┐\n"
    "  ╭────┤      ├╮\n"
    "  │    │  ──▶ ││\n"
    "  ╰────┤      ├╯\n"
    "       └──────┘\n";
constexpr std::string_view kLift =
    "    ┌──────┐  ▲\n"
    "    └──────┘  │\n"
    "  ╭──────────╮\n"
    "  ╰──────────╯\n";
constexpr std::string_view kChart =
    "┌──────────┐\n"
    "│ ◪  ▒▒  ◪ │\n"
    "│    ◪     │ ◀─ ─ ─ ▯\n"
    "│ ◪      ◪ │\n"
    "└──────────┘\n";
constexpr std::string_view kAllow = "[ Start ]  ▶  [ Allow ]\n";
constexpr std::string_view kKeys =
    "┌───────┐\n"
    "│       ▌◀ press, wait, press\n"
    "│       │\n"
    "└───────┘\n";
constexpr std::array<std::string_view, 6> kFaces{
    "  ▔▔▔▔▔▔▔▔▔▔   screen up\n━━━━━━━━━━━━━━\n",
    "  ▁▁▁▁▁▁▁▁▁▁   screen down, cloth below\n▒▒▒▒▒▒▒▒▒▒▒▒▒▒\n",
    "   ┌──┐\n   │▴ │  top edge up\n   └──┘\n━━━━━━━━━\n",
    "   ┌──┐\n   │▾ │  top edge down\n   └──┘\n━━━━━━━━━\n",
    "  ┌──────┐\n  │◂     │  on its left edge\n  └──────┘\n━━━━━━━━━━━━\n",
    "  ┌──────┐\n  │     ▸│  on its right edge\n  └──────┘\n━━━━━━━━━━━━\n"};
constexpr std::string_view kPlugUp =
    "┌───────┐\n"
    "│       │    ▲ mark\n"
    "└──[▭]──┘ ◀━━━━\n";
constexpr std::string_view kPlugDown =
    "┌───────┐\n"
    "│       │\n"
    "└──[▭]──┘ ◀━━━━\n"
    "             ▼ mark\n";
constexpr std::string_view kWiggle =
    "┌───────┐   ▲\n"
    "│       │ ◀━┿━▶  gently\n"
    "└──[▭]──┘   ▼\n";
constexpr std::string_view kCover =
    "┌─▓▓▓▓▓─┐  finger over the top\n"
    "│       │\n"
    "│       │\n"
    "└───────┘\n";
constexpr std::string_view kCoverLight =
    "┌─────────┐\n"
    "│ ▓(◎ ☀)▓ │  finger over both\n"
    "│         │\n"
    "└─────────┘\n";
constexpr std::string_view kMark =
    "┌───────┐\n"
    "│   ·   │  tap the fault, then Next\n"
    "│    ☝  │\n"
    "└───────┘\n";

std::string_view drawn(const checks::Ask& a) {
  using checks::Deed;
  switch (a.deed) {
    case Deed::sweep_panel:
      return kSweep;
    case Deed::fold_cycles:
      return kCycles;
    case Deed::hold_at_stop:
      return a.amount < 1 ? kClosed : a.amount > 179 ? kFlat : kSquare;
    case Deed::place_on_pad:
      return kOnPad;
    case Deed::shift_on_pad:
      return kShift;
    case Deed::lift_from_pad:
      return kLift;
    case Deed::point_at_chart:
      return kChart;
    case Deed::allow_on_page:
      return kAllow;
    case Deed::unfold:
      return kFlat;
    case Deed::fold:
      return kClosed;
    case Deed::press_keys:
      return kKeys;
    case Deed::lay_on_face:
      return kFaces[static_cast<std::size_t>(std::clamp(std::lround(a.amount), 1L, 6L) - 1)];
    case Deed::plug_in:
      return a.amount < 1.5 ? kPlugUp : kPlugDown;
    case Deed::wiggle_plug:
      return kWiggle;
    case Deed::cover_top:
      return kCover;
    case Deed::cover_light:
      return kCoverLight;
    case Deed::mark_fields:
      return kMark;
    case Deed::leave_alone:
    case Deed::unplug:
      return {};
  }
  return {};
}
}  // namespace

std::string picture(const checks::Ask& ask) { return std::string(drawn(ask)); }

}  // namespace hb::cli
