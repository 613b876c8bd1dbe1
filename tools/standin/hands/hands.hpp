/// The hands of the stand-in: actions (checks/action/action.hpp) turned into movements over simulated time.
/// A new action ends the one under way, as a person does who is told something else: fingers leave the glass,
/// the hinge stays where it is, and what was being laid down, shifted or lifted is brought to its end.
/// Threads: a plain value type, on the stand-in's one thread.
#pragma once

#include <cstdint>
#include <deque>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "checks/action/action.hpp"
#include "harness/base/result.hpp"
#include "tools/standin/hands/pose.hpp"
#include "tools/standin/physics/touch.hpp"
#include "tools/standin/physics/unit.hpp"

namespace hb::standin {
class Hands {
 public:
  explicit Hands(const Unit& unit);

  /// Starts an action at time `now_us`. invalid_argument: no such part, or an amount out of range;
  /// unsupported: this model cannot do it.
  [[nodiscard]] Result<void> begin(const checks::Action& action, std::int64_t now_us);
  void enough(std::int64_t now_us);
  [[nodiscard]] bool busy() const noexcept { return !segments_.empty(); }

  /// Ends what is over by `now_us`. Time never goes back.
  void advance(std::int64_t now_us);
  [[nodiscard]] double hinge_deg(std::int64_t t_us) const noexcept;  ///< the true angle
  [[nodiscard]] std::vector<Contact> contacts(std::size_t panel, std::int64_t t_us) const;

  /// What points up, and how the phone turns.
  [[nodiscard]] Turning pose(std::int64_t t_us) const noexcept;
  /// Code of the side key under a finger; 0: none.
  [[nodiscard]] int pressed_key() const noexcept { return segments_.empty() ? 0 : segments_.front().key; }

  [[nodiscard]] bool cable() const noexcept { return cable_; }
  void set_cable(bool in) noexcept { cable_ = in; }
  /// The bench's charger: 0 not plugged in, 1 or 2 which way round.
  [[nodiscard]] int plug_side() const noexcept { return plug_side_; }
  [[nodiscard]] bool wiggles() const noexcept { return !segments_.empty() && segments_.front().wiggles; }
  [[nodiscard]] bool covered() const noexcept { return covered_; }  ///< a finger over the top of the screen
  [[nodiscard]] bool on_pad() const noexcept { return on_pad_; }
  [[nodiscard]] double shift_mm() const noexcept { return shift_mm_; }
  /// The camera that has the chart in view; empty: none.
  [[nodiscard]] const std::string& chart_part() const noexcept { return chart_part_; }
  /// The camera that lies under a finger together with its light; empty: none.
  [[nodiscard]] const std::string& covered_part() const noexcept { return covered_part_; }
  /// How many times a camera was aimed at the chart, and whether the last time was the first for that camera.
  [[nodiscard]] int aims() const noexcept { return aims_; }
  [[nodiscard]] bool first_aim() const noexcept { return first_aim_; }
  /// Called when the person taps Start and Allow on the phone's page.
  std::function<void()> on_allow;
  /// Called when they have gone through the page's full-screen fields.
  std::function<void()> on_looked;

 private:
  enum class Effect {
    none,
    lay_on_pad,
    shift,
    lift,
    aim,
    allow,
    look,
    pull_plugs,
    plug,
    unplug,
    cover,
    cover_light
  };
  struct Stroke {
    int finger = 0;
    double x0 = 0, y0 = 0, x1 = 0, y1 = 0;  // mm
  };
  struct Segment {
    std::int64_t lasts_us = 0;
    bool moves_hinge = false;
    double to_deg = 0;
    std::size_t panel = 0;
    std::vector<Stroke> strokes;
    int key = 0;           ///< pressed meanwhile
    int face = 0;          ///< turned to meanwhile
    bool wiggles = false;  ///< the plug is moved in the port
    Effect effect = Effect::none;
    double amount = 0;
    std::string part;
  };

  void rest(double seconds);
  void move_hinge(double to_deg, double seconds);
  void stroke(std::size_t panel, double x0, double y0, double x1, double y1, double mm_per_s);
  void then(Effect effect, double seconds, double amount = 0, std::string part = {});
  /// What each action makes of the hands.
  [[nodiscard]] Result<void> act(const checks::LeaveAlone& a);
  [[nodiscard]] Result<void> act(const checks::SweepPanel& a);
  [[nodiscard]] Result<void> act(const checks::FoldCycles& a);
  [[nodiscard]] Result<void> act(const checks::HoldAtStop& a);
  [[nodiscard]] Result<void> act(const checks::PlaceOnPad& a);
  [[nodiscard]] Result<void> act(const checks::ShiftOnPad& a);
  [[nodiscard]] Result<void> act(const checks::LiftFromPad& a);
  [[nodiscard]] Result<void> act(const checks::PointAtChart& a);
  [[nodiscard]] Result<void> act(const checks::AllowOnPage& a);
  [[nodiscard]] Result<void> act(const checks::Unfold& a);
  [[nodiscard]] Result<void> act(const checks::Fold& a);
  [[nodiscard]] Result<void> act(const checks::PressKey& a);
  [[nodiscard]] Result<void> act(const checks::LayOnFace& a);
  [[nodiscard]] Result<void> act(const checks::PlugIn& a);
  [[nodiscard]] Result<void> act(const checks::WigglePlug& a);
  [[nodiscard]] Result<void> act(const checks::Unplug& a);
  [[nodiscard]] Result<void> act(const checks::CoverTop& a);
  [[nodiscard]] Result<void> act(const checks::CoverLight& a);
  [[nodiscard]] Result<void> act(const checks::MarkFields& a);
  [[nodiscard]] Result<std::size_t> turn_to_panel(std::string_view part);
  [[nodiscard]] Result<void> camera_known(std::string_view part) const;
  void finish_front();

  const ModelSpec* model_;
  std::uint64_t seed_;
  double stop_deg_;
  std::deque<Segment> segments_;
  std::int64_t started_us_ = 0;  ///< of the front segment
  double from_deg_ = 180;        ///< angle when the front segment started
  Axes from_up_{0, 0, 1};        ///< the same for the pose
  bool cable_ = true, on_pad_ = false;
  int plug_side_ = 0;
  bool covered_ = false;
  double shift_mm_ = 0;
  std::string chart_part_, last_aimed_, covered_part_;
  int aims_ = 0;
  bool first_aim_ = true;
};
}  // namespace hb::standin
