/// What an operator (a technician, or an automatic fixture) is asked to do with the phone, and what to look
/// at. An action is a small struct that names its amounts with their units; its name, its JSON form for a
/// fixture, its words for a person and its picture are here and nowhere else.
/// Threads: value types and pure functions; any thread.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "checks/action/chart_seen.hpp"
#include "harness/base/gate.hpp"

namespace hb::checks {

/// What points up, by the platform's sensor axes.
enum class Face {
  screen = 1,   ///< +z
  back,         ///< -z
  top_edge,     ///< +y
  bottom_edge,  ///< -y
  right_edge,   ///< +x
  left_edge     ///< -x
};

// Each struct lists its members to a visitor: v("name", member) or v("name", member, least, most). What is
// listed is the JSON form.

/// Lay the phone down and touch nothing.
struct LeaveAlone {
  static constexpr Term name = "leave_alone";
  double seconds = 0;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("seconds", s.seconds, 0, 3600);
  }
  friend bool operator==(const LeaveAlone&, const LeaveAlone&) = default;
};
/// Run a finger over the whole panel, edge to edge, row by row; then the guided strokes.
struct SweepPanel {
  static constexpr Term name = "sweep_panel";
  ShopText panel;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("panel", s.panel);
  }
  friend bool operator==(const SweepPanel&, const SweepPanel&) = default;
};
/// From flat: close fully, open fully, a short stop at both ends.
struct FoldCycles {
  static constexpr Term name = "fold_cycles";
  int cycles = 1;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("cycles", s.cycles, 1, 100);
  }
  friend bool operator==(const FoldCycles&, const FoldCycles&) = default;
};
/// Hold the hinge still: 0 closed, 90 against the square, 180 flat.
struct HoldAtStop {
  static constexpr Term name = "hold_at_stop";
  double degrees = 0;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("degrees", s.degrees, 0, 180);
  }
  friend bool operator==(const HoldAtStop&, const HoldAtStop&) = default;
};

/// An action that has nothing to say but its name.
#define HB_PLAIN_ACTION(Type, text)                             \
  struct Type {                                                 \
    static constexpr Term name = text;                          \
    template <class Self, class V>                              \
    static void members(Self&, V&&) {}                          \
    friend bool operator==(const Type&, const Type&) = default; \
  }
HB_PLAIN_ACTION(PlaceOnPad, "place_on_pad");  // any cable out, centred on the charging pad
HB_PLAIN_ACTION(LiftFromPad, "lift_from_pad");
HB_PLAIN_ACTION(AllowOnPage, "allow_on_page");  // tap "Start" and then "Allow" on the phone's own page
HB_PLAIN_ACTION(Unfold, "unfold");              // leave it flat
HB_PLAIN_ACTION(Fold, "fold");                  // leave it closed
HB_PLAIN_ACTION(Unplug, "unplug");              // take the charger out and leave the phone as it was
HB_PLAIN_ACTION(CoverTop, "cover_top");         // a finger over the top of the screen until the next action
#undef HB_PLAIN_ACTION

/// Push the phone off the pad's centre.
struct ShiftOnPad {
  static constexpr Term name = "shift_on_pad";
  double millimetres = 0;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("millimetres", s.millimetres, -100, 100);
  }
  friend bool operator==(const ShiftOnPad&, const ShiftOnPad&) = default;
};
/// Aim the camera at the bench's chart, filling the frame.
struct PointAtChart {
  static constexpr Term name = "point_at_chart";
  ShopText camera;
  ChartSeen last = ChartSeen::measured;  ///< what was wrong with the last picture; measured: nothing, or none
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("camera", s.camera);
    v("last", s.last, 0, kChartSeen - 1);
  }
  friend bool operator==(const PointAtChart&, const PointAtChart&) = default;
};
/// Press the key, shortly and slowly.
struct PressKey {
  static constexpr Term name = "press_keys";
  ShopText key;
  int times = 1;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("key", s.key);
    v("times", s.times, 1, 20);
  }
  friend bool operator==(const PressKey&, const PressKey&) = default;
};
/// Lay the phone still on one of its six faces; it stays there until the next action.
struct LayOnFace {
  static constexpr Term name = "lay_on_face";
  Face up = Face::screen;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("up", s.up, 1, 6);
  }
  friend bool operator==(const LayOnFace&, const LayOnFace&) = default;
};
/// Plug the bench's charger in, whatever was in before taken out.
struct PlugIn {
  static constexpr Term name = "plug_in";
  bool turned_over = false;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("turned_over", s.turned_over);
  }
  friend bool operator==(const PlugIn&, const PlugIn&) = default;
};
/// Move the plug gently in the port, all ways.
struct WigglePlug {
  static constexpr Term name = "wiggle_plug";
  double seconds = 0;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("seconds", s.seconds, 0, 600);
  }
  friend bool operator==(const WigglePlug&, const WigglePlug&) = default;
};
/// A finger over the camera and its light, there until the next action or for 5 s.
struct CoverLight {
  static constexpr Term name = "cover_light";
  ShopText camera;
  bool again = false;  ///< nothing was seen of the light
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("camera", s.camera);
    v("again", s.again);
  }
  friend bool operator==(const CoverLight&, const CoverLight&) = default;
};
/// Look at the full-screen fields of the phone's page, one after the other, and tap what is wrong on each;
/// the phone lies open or closed as that panel needs.
struct MarkFields {
  static constexpr Term name = "mark_fields";
  ShopText panel;
  int fields = 1;
  template <class Self, class V>
  static void members(Self& s, V&& v) {
    v("panel", s.panel);
    v("fields", s.fields, 1, 8);
  }
  friend bool operator==(const MarkFields&, const MarkFields&) = default;
};

using Action = std::variant<LeaveAlone, SweepPanel, FoldCycles, HoldAtStop, PlaceOnPad, ShiftOnPad,
                            LiftFromPad, PointAtChart, AllowOnPage, Unfold, Fold, PressKey, LayOnFace, PlugIn,
                            WigglePlug, Unplug, CoverTop, CoverLight, MarkFields>;

[[nodiscard]] Term name(const Action& action) noexcept;
/// {"action":NAME, and its members}.
[[nodiscard]] nlohmann::json to_json(const Action& action);
/// The way back. Errors: invalid_argument: no such action, a member that is missing, of another type or out
/// of range; privacy: a part's name that the gate refuses.
[[nodiscard]] Result<Action> action_from_json(const nlohmann::json& j);

/// A sentence of this program with places {0}, {1} for what stands in `values`: the sentence can be
/// translated.
struct Saying {
  Term sentence;
  std::vector<std::string> values = {};
};
/// With the values put in.
[[nodiscard]] std::string english(const Saying& saying);

/// What a person is told to do; one or more sentences, each whole.
[[nodiscard]] std::vector<Saying> words(const Action& action);
/// A small drawing for a terminal: lines of at most 40 columns, each with its line end; empty where words are
/// enough.
[[nodiscard]] std::string_view picture(const Action& action);

/// A thing for eyes. The answer is a number: millimetres, a count, or 1 for yes and 0 for no. Whatever comes
/// of it is observed, not measured, and must be named so.
enum class Inspection {
  widest_gap,     ///< widest gap along the edge of the part, by feeler gauge; mm
  screws,         ///< screws seen in the group; a count
  seated,         ///< the cover sits flush all round; yes or no
  colour_agreed,  ///< the colour of the part is the agreed one; yes or no
  new_adhesive,   ///< new adhesive was used under the part; yes or no
  buzzed,         ///< the phone was felt or heard to vibrate just now; yes or no
  sim_in,         ///< the bench's SIM is in, its tray pushed home; yes or no
  nfc_on          ///< NFC is switched on in the phone's settings; yes or no
};
inline constexpr int kInspections = 8;
enum class AnswerKind { millimetres, count, yes_or_no };
[[nodiscard]] AnswerKind answer_kind(Inspection inspection) noexcept;
/// Whether a person may answer so: 0 to 20 mm, 0 to 100 whole, or 0 and 1.
[[nodiscard]] bool may_answer(Inspection inspection, double answer) noexcept;
[[nodiscard]] Term name(Inspection inspection) noexcept;

struct Question {
  Inspection inspection = Inspection::seated;
  ShopText part = {};
  friend bool operator==(const Question&, const Question&) = default;
};
[[nodiscard]] Saying words(const Question& question);

}  // namespace hb::checks
