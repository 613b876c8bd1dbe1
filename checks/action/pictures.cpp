// Small drawings of what hands must do, for a terminal.
#include <array>

#include "checks/action/action.hpp"

namespace hb::checks {
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

struct Drawn {
  using View = std::string_view;
  View operator()(const LeaveAlone&) const { return {}; }
  View operator()(const SweepPanel&) const { return kSweep; }
  View operator()(const FoldCycles&) const { return kCycles; }
  View operator()(const HoldAtStop& a) const {
    return a.degrees < 1 ? kClosed : a.degrees > 179 ? kFlat : kSquare;
  }
  View operator()(const PlaceOnPad&) const { return kOnPad; }
  View operator()(const ShiftOnPad&) const { return kShift; }
  View operator()(const LiftFromPad&) const { return kLift; }
  View operator()(const PointAtChart&) const { return kChart; }
  View operator()(const AllowOnPage&) const { return kAllow; }
  View operator()(const Unfold&) const { return kFlat; }
  View operator()(const Fold&) const { return kClosed; }
  View operator()(const PressKey&) const { return kKeys; }
  View operator()(const LayOnFace& a) const { return kFaces[static_cast<std::size_t>(a.up) - 1]; }
  View operator()(const PlugIn& a) const { return a.turned_over ? kPlugDown : kPlugUp; }
  View operator()(const WigglePlug&) const { return kWiggle; }
  View operator()(const Unplug&) const { return {}; }
  View operator()(const CoverTop&) const { return kCover; }
  View operator()(const CoverLight&) const { return kCoverLight; }
  View operator()(const MarkFields&) const { return kMark; }
};
}  // namespace

std::string_view picture(const Action& action) { return std::visit(Drawn{}, action); }
}  // namespace hb::checks
