#include "checks/check.hpp"

#include <algorithm>
#include <stdexcept>

#include "checks/kernel/decide.hpp"

namespace hb::checks {
namespace {
template <class T>
T get_or(const nlohmann::json& values, std::string_view key, T fallback) {
  const auto it = values.find(key);
  if (it == values.end()) return fallback;
  return it->get<T>();
}
}  // namespace

double Section::number(std::string_view key, double fallback) const { return get_or(values, key, fallback); }
long long Section::integer(std::string_view key, long long fallback) const {
  return get_or(values, key, fallback);
}
bool Section::boolean(std::string_view key, bool fallback) const { return get_or(values, key, fallback); }
std::string Section::text(std::string_view key, std::string fallback) const {
  return get_or(values, key, std::move(fallback));
}
std::vector<double> Section::numbers(std::string_view key) const {
  return get_or(values, key, std::vector<double>{});
}

std::vector<const Section*> Sections::named(std::string_view name) const {
  std::vector<const Section*> out;
  for (const auto& [n, s] : all)
    if (n == name) out.push_back(&s);
  return out;
}

const Section* Sections::one(std::string_view name) const {
  const auto found = named(name);
  return found.empty() ? nullptr : found.front();
}

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

Term name(Field f) noexcept {
  switch (f) {
    case Field::white:
      return "white";
    case Field::black:
      return "black";
    case Field::red:
      return "red";
    case Field::green:
      return "green";
    case Field::blue:
      return "blue";
    case Field::ramp:
      return "ramp";
    case Field::grey:
      return "grey";
    case Field::crease:
      return "crease";
  }
  return "white";
}

net::awaitable<Result<FieldMarks>> PagePort::fields(FieldShow) {
  co_return Error{ErrorCode::unsupported, "this page shows no full-screen fields", "phone page", ""};
}

namespace {
Error no_drive() {
  return {ErrorCode::unsupported, "this page sets neither a camera's focus nor its light", "phone page", ""};
}
}  // namespace
net::awaitable<Result<void>> PagePort::focus_frames(CameraAsk, int, int, FrameSink) { co_return no_drive(); }
net::awaitable<Result<void>> PagePort::light_frames(CameraAsk, int, int, FrameSink) { co_return no_drive(); }

net::awaitable<Result<double>> Hands::observe(Question) {
  co_return Error{ErrorCode::unsupported, "nobody can be asked what the phone looks like", "",
                  "Run it in a terminal, or give a fixture that answers."};
}

namespace {
Error no_sound() {
  return {ErrorCode::unsupported, "this page cannot play and record", "phone page",
          "Use a browser that can, or listen to it by ear."};
}
}  // namespace
net::awaitable<Result<void>> PagePort::open_for_sound() { co_return no_sound(); }
net::awaitable<Result<SoundPlaces>> PagePort::sound_places() { co_return no_sound(); }
net::awaitable<Result<void>> PagePort::sweep(SweepAsk, RecordingSink) { co_return no_sound(); }

Term name(Outcome o) noexcept {
  switch (o) {
    case Outcome::pass:
      return "pass";
    case Outcome::marginal:
      return "marginal";
    case Outcome::fail:
      return "fail";
    case Outcome::not_tested:
      return "not tested";
    case Outcome::waived:
      return "waived";
  }
  return "not tested";
}

Term name(LimitOrigin o) noexcept {
  switch (o) {
    case LimitOrigin::maker_figure:
      return "maker's figure";
    case LimitOrigin::learned:
      return "learned";
    case LimitOrigin::common_practice:
      return "common practice";
  }
  return "common practice";
}

Outcome combine(std::span<const Outcome> outcomes) noexcept {
  constexpr Outcome worst_first[] = {Outcome::fail, Outcome::marginal, Outcome::not_tested, Outcome::waived,
                                     Outcome::pass};
  for (const Outcome w : worst_first)
    if (std::find(outcomes.begin(), outcomes.end(), w) != outcomes.end()) return w;
  return Outcome::not_tested;
}

std::vector<Verdict> score_by_rule(std::span<const Measure> measures, std::span<const Limit> limits) {
  std::vector<Verdict> out;
  for (const Measure& m : measures) {
    Verdict v{m, std::nullopt, Outcome::not_tested, 0, 0};
    const Limit* best = nullptr;
    for (const Limit& l : limits)
      if (l.key == m.key.view() && (l.part == m.part || (l.part.empty() && best == nullptr))) best = &l;
    if (best != nullptr) {
      const auto d = kernel::decide(m.value, m.u, best->lower, best->upper);
      v.limit = *best;
      v.guard_band = d.guard_band;
      v.false_accept_risk = d.outside_probability;
      v.outcome = d.decision == kernel::Decision::accept ? Outcome::pass
                  : d.decision == kernel::Decision::open ? Outcome::marginal
                                                         : Outcome::fail;
    }
    out.push_back(std::move(v));
  }
  return out;
}

namespace {
/// The privacy screen stands between any run-time sentence and the record.
std::string screened_reason(const Error& e) {
  const auto t = ShopText::kept(e.what, "reason");
  return t ? t->str() : std::string("the reason was refused by the privacy gate");
}
}  // namespace

Result<CheckResult> finish_result(
    const CheckInfo& info, Result<Measured> measured, std::span<const Limit> limits,
    const std::function<std::vector<Finding>(std::span<const Verdict>)>& diagnose) {
  CheckResult r;
  r.id = info.id.str();
  r.title = info.title.str();
  r.customer_title = info.customer_title.str();
  if (!measured) {
    if (measured.error().code != ErrorCode::unsupported) return std::move(measured).error();
    r.reason = screened_reason(measured.error());
    return r;
  }
  r.verdicts = score_by_rule(measured->measures, limits);
  r.plots = std::move(measured->plots);
  std::vector<Outcome> outcomes;
  for (const Verdict& v : r.verdicts)
    if (v.limit) outcomes.push_back(v.outcome);
  for (const Limit& l : limits) {
    if (l.key.substr(0, l.key.find('.')) != r.id) continue;
    const bool owed = std::any_of(measured->owed.begin(), measured->owed.end(), [&](const auto& o) {
      return o.key.view() == l.key && (l.part.empty() || l.part == o.part);
    });
    const bool met = !owed && std::any_of(r.verdicts.begin(), r.verdicts.end(), [&](const Verdict& v) {
      return v.measure.key.view() == l.key && (l.part.empty() || l.part == v.measure.part);
    });
    if (met) continue;
    outcomes.push_back(Outcome::not_tested);
    if (r.reason.empty())
      r.reason = measured->missing.view().empty()
                     ? "a measure that the profile limits could not be taken: " + l.key
                     : measured->missing.str();
  }
  r.outcome = combine(outcomes);
  if (r.outcome == Outcome::not_tested && r.reason.empty())
    r.reason = "the profile sets no limit for this check";
  r.findings = diagnose(r.verdicts);
  return r;
}

}  // namespace hb::checks
