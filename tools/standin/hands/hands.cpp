#include "tools/standin/hands/hands.hpp"

#include <algorithm>
#include <cmath>

#include "harness/base/text.hpp"

namespace hb::standin {
namespace {
constexpr double kRowPitch_mm = 4, kSweep_mm_per_s = 300, kGuided_mm_per_s = 200;
constexpr double kDwell_s = 0.015;   // the finger rests this long at both ends of a stroke
constexpr double kLifted_s = 0.085;  // between two strokes
constexpr double kLook_s = 2.5;      // at one full-screen field
std::int64_t to_us(double s) { return std::llround(s * 1e6); }

Error cannot(ErrorCode code, std::string what, std::string_view where = {}) {
  return Error{code, std::move(what), printable(where, 40), "See the list of actions in the README."};
}
Error does_not_fold() { return cannot(ErrorCode::unsupported, "this phone does not fold"); }
}  // namespace

Hands::Hands(const Unit& unit)
    : model_(unit.model),
      seed_(unit.seed),
      stop_deg_(unit.hinge ? unit.hinge->stop_deg : 0),
      from_deg_(unit.model->hinged ? 180 : 0) {}

void Hands::rest(double seconds) {
  Segment s;
  s.lasts_us = to_us(seconds);
  segments_.push_back(std::move(s));
}

void Hands::move_hinge(double to_deg, double seconds) {
  Segment s;
  s.lasts_us = to_us(seconds);
  s.moves_hinge = true;
  s.to_deg = std::max(to_deg, stop_deg_);
  segments_.push_back(std::move(s));
}

void Hands::stroke(std::size_t panel, double x0, double y0, double x1, double y1, double mm_per_s) {
  Segment s;
  s.lasts_us = to_us(std::hypot(x1 - x0, y1 - y0) / mm_per_s + 2 * kDwell_s);
  s.panel = panel;
  s.strokes.push_back({0, x0, y0, x1, y1});
  segments_.push_back(std::move(s));
  rest(kLifted_s);
}

void Hands::then(Effect effect, double seconds, double amount, std::string part) {
  Segment s;
  s.lasts_us = to_us(seconds);
  s.effect = effect;
  s.amount = amount;
  s.part = std::move(part);
  segments_.push_back(std::move(s));
}

/// Opens or closes the phone, so that this panel shows.
Result<std::size_t> Hands::turn_to_panel(std::string_view part) {
  const auto& panels = model_->panels;
  const auto it = std::find_if(panels.begin(), panels.end(), [&](const auto& p) { return p.part == part; });
  if (it == panels.end()) return cannot(ErrorCode::invalid_argument, "there is no panel of this name", part);
  const auto panel = static_cast<std::size_t>(it - panels.begin());
  if (model_->hinged && panel == 0 && from_deg_ < 179) move_hinge(180, 1);
  if (model_->hinged && panel != 0 && from_deg_ > stop_deg_ + 1) move_hinge(0, 1);
  rest(0.2);
  return panel;
}

Result<void> Hands::act(const checks::MarkFields& a) {
  const auto panel = turn_to_panel(a.panel.str());
  if (!panel) return panel.error();
  rest(1);  // Begin
  then(Effect::look, kLook_s * a.fields);
  return {};
}

Result<void> Hands::act(const checks::SweepPanel& a) {
  const auto turned = turn_to_panel(a.panel.str());
  if (!turned) return turned.error();
  const std::size_t panel = *turned;
  const double w = model_->panels[panel].width_mm, h = model_->panels[panel].height_mm;
  const int rows = static_cast<int>(std::ceil(h / kRowPitch_mm));
  for (int i = 0; i <= rows; ++i) {
    const double y = h * i / rows;
    const bool back = i % 2 != 0;
    stroke(panel, back ? w : 0, y, back ? 0 : w, y, kSweep_mm_per_s);
  }
  stroke(panel, 0, 0, w, h, kGuided_mm_per_s);
  stroke(panel, w, 0, 0, h, kGuided_mm_per_s);
  stroke(panel, 0, 0.4 * h, w, 0.4 * h, kGuided_mm_per_s);
  stroke(panel, 0.5 * w, 0, 0.5 * w, h, kGuided_mm_per_s);
  Segment tap;
  tap.lasts_us = to_us(0.2);
  tap.panel = panel;
  tap.strokes = {{0, 0.2 * w, 0.62 * h, 0.2 * w, 0.62 * h}, {1, 0.8 * w, 0.62 * h, 0.8 * w, 0.62 * h}};
  segments_.push_back(std::move(tap));
  rest(0.1);
  return {};
}

Result<void> Hands::act(const checks::Unfold&) {
  if (!model_->hinged) return does_not_fold();
  move_hinge(180, 1);
  return {};
}

Result<void> Hands::act(const checks::Fold&) {
  if (!model_->hinged) return does_not_fold();
  move_hinge(0, 1);
  return {};
}

Result<void> Hands::act(const checks::HoldAtStop& a) {
  if (!model_->hinged) return does_not_fold();
  move_hinge(a.degrees, 0.8);
  rest(1.5);
  return {};
}

Result<void> Hands::act(const checks::FoldCycles& a) {
  if (!model_->hinged) return does_not_fold();
  if (from_deg_ < 179.5) move_hinge(180, 0.8);
  for (int i = 0; i < a.cycles; ++i) {
    move_hinge(0, 1.6);
    rest(0.8);
    move_hinge(180, 1.6);
    rest(0.8);
  }
  return {};
}

Result<void> Hands::act(const checks::PressKey& a) {
  const auto& keys = model_->keys;
  const auto it =
      std::find_if(keys.begin(), keys.end(), [&](const auto& k) { return k.part == a.key.str(); });
  if (it == keys.end())
    return cannot(ErrorCode::invalid_argument, "there is no key of this name", a.key.str());
  for (int i = 0; i < a.times; ++i) {
    rest(0.4);
    Segment s;
    s.lasts_us = to_us(0.25);
    s.key = it->code;
    segments_.push_back(std::move(s));
    rest(0.35);
  }
  return {};
}

Result<void> Hands::act(const checks::LayOnFace& a) {
  Segment s;
  s.lasts_us = to_us(1);
  s.face = static_cast<int>(a.up);
  segments_.push_back(std::move(s));
  rest(0.4);
  return {};
}

Result<void> Hands::act(const checks::PlugIn& a) {
  then(Effect::pull_plugs, 0.4);
  then(Effect::plug, 0.6, a.turned_over ? 2 : 1);
  return {};
}

Result<void> Hands::act(const checks::Unplug&) {
  then(Effect::unplug, 0.5);
  return {};
}

Result<void> Hands::act(const checks::WigglePlug& a) {
  if (plug_side_ == 0) return cannot(ErrorCode::invalid_argument, "the charger is not plugged in");
  Segment s;
  s.lasts_us = to_us(a.seconds);
  s.wiggles = true;
  segments_.push_back(std::move(s));
  return {};
}

Result<void> Hands::act(const checks::LeaveAlone& a) {
  rest(a.seconds);
  return {};
}

Result<void> Hands::act(const checks::PlaceOnPad&) {
  then(Effect::lay_on_pad, 1);
  return {};
}

Result<void> Hands::act(const checks::ShiftOnPad& a) {
  if (!on_pad_) return cannot(ErrorCode::invalid_argument, "the phone does not lie on the pad");
  then(Effect::shift, 0.5, a.millimetres);
  return {};
}

Result<void> Hands::act(const checks::LiftFromPad&) {
  then(Effect::lift, 0.5);
  return {};
}

Result<void> Hands::act(const checks::CoverTop&) {
  then(Effect::cover, 0.5);
  return {};
}

Result<void> Hands::act(const checks::AllowOnPage&) {
  then(Effect::allow, 0.3);
  return {};
}

Result<void> Hands::camera_known(std::string_view part) const {
  const auto& all = model_->cameras;
  if (std::none_of(all.begin(), all.end(), [&](const auto& c) { return c.part == part; }))
    return cannot(ErrorCode::invalid_argument, "there is no camera of this name", part);
  return {};
}

Result<void> Hands::act(const checks::PointAtChart& a) {
  if (auto known = camera_known(a.camera.str()); !known) return known;
  then(Effect::aim, 1, 0, a.camera.str());
  return {};
}

Result<void> Hands::act(const checks::CoverLight& a) {
  if (auto known = camera_known(a.camera.str()); !known) return known;
  then(Effect::cover_light, 0.5, 0, a.camera.str());
  return {};
}

Result<void> Hands::begin(const checks::Action& action, std::int64_t now_us) {
  enough(now_us);
  covered_ = false;
  covered_part_.clear();
  const bool keeps_still = std::holds_alternative<checks::LeaveAlone>(action) ||
                           std::holds_alternative<checks::AllowOnPage>(action);
  auto r = std::visit([this](const auto& a) { return act(a); }, action);
  if (r && !keeps_still) chart_part_.clear();
  if (r && !keeps_still && !std::holds_alternative<checks::LayOnFace>(action)) from_up_ = {0, 0, 1};
  return r;
}

void Hands::enough(std::int64_t now_us) {
  advance(now_us);
  from_deg_ = hinge_deg(now_us);
  from_up_ = pose(now_us).up;
  std::deque<Segment> rest_of_it;
  rest_of_it.swap(segments_);
  for (auto& s : rest_of_it) {
    if (s.effect == Effect::none || s.effect == Effect::aim || s.effect == Effect::allow ||
        s.effect == Effect::look || s.effect == Effect::cover || s.effect == Effect::cover_light)
      continue;
    segments_.push_back(std::move(s));
    finish_front();
  }
  started_us_ = now_us;
}

void Hands::finish_front() {
  const Segment s = std::move(segments_.front());
  segments_.pop_front();
  started_us_ += s.lasts_us;
  if (s.moves_hinge) from_deg_ = s.to_deg;
  if (s.face != 0) from_up_ = face_up(s.face, seed_);
  switch (s.effect) {
    case Effect::none:
      break;
    case Effect::lay_on_pad:
      cable_ = false, plug_side_ = 0, on_pad_ = true, shift_mm_ = 0;
      break;
    case Effect::shift:
      shift_mm_ = s.amount;
      break;
    case Effect::lift:
      cable_ = true, on_pad_ = false, shift_mm_ = 0;
      break;
    case Effect::pull_plugs:
      cable_ = false, plug_side_ = 0;
      break;
    case Effect::plug:
      plug_side_ = static_cast<int>(s.amount);
      break;
    case Effect::unplug:
      cable_ = true, plug_side_ = 0;
      break;
    case Effect::cover:
      covered_ = true;
      break;
    case Effect::cover_light:
      covered_part_ = s.part;
      break;
    case Effect::aim:
      chart_part_ = s.part;
      first_aim_ = s.part != last_aimed_;
      last_aimed_ = s.part, ++aims_;
      break;
    case Effect::allow:
      if (on_allow) on_allow();
      break;
    case Effect::look:
      if (on_looked) on_looked();
      break;
  }
}

void Hands::advance(std::int64_t now_us) {
  while (!segments_.empty() && started_us_ + segments_.front().lasts_us <= now_us) finish_front();
  if (segments_.empty()) started_us_ = now_us;
}

double Hands::hinge_deg(std::int64_t t_us) const noexcept {
  if (segments_.empty() || !segments_.front().moves_hinge) return from_deg_;
  const Segment& s = segments_.front();
  const double u =
      std::clamp(static_cast<double>(t_us - started_us_) / static_cast<double>(s.lasts_us), 0.0, 1.0);
  return from_deg_ + (s.to_deg - from_deg_) * u * u * (3 - 2 * u);
}

Turning Hands::pose(std::int64_t t_us) const noexcept {
  if (segments_.empty() || segments_.front().face == 0) return {from_up_, {}};
  const Segment& s = segments_.front();
  const double lasts = static_cast<double>(s.lasts_us);
  const double u = std::clamp(static_cast<double>(t_us - started_us_) / lasts, 0.0, 1.0);
  return turned(from_up_, face_up(s.face, seed_), u, lasts * 1e-6);
}

std::vector<Contact> Hands::contacts(std::size_t panel, std::int64_t t_us) const {
  std::vector<Contact> out;
  if (segments_.empty() || segments_.front().panel != panel) return out;
  const Segment& s = segments_.front();
  const double t = static_cast<double>(t_us - started_us_) * 1e-6 - kDwell_s;
  const double moving_s = static_cast<double>(s.lasts_us) * 1e-6 - 2 * kDwell_s;
  for (const Stroke& k : s.strokes) {
    const double u = moving_s > 0 ? std::clamp(t / moving_s, 0.0, 1.0) : 0;
    out.push_back({k.finger, k.x0 + u * (k.x1 - k.x0), k.y0 + u * (k.y1 - k.y0)});
  }
  return out;
}
}  // namespace hb::standin
