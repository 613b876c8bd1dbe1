// Capture -> measures. Pure: the same capture gives the same bits.
#include <algorithm>
#include <cmath>

#include "checks/keys/keys.hpp"

namespace hb::checks {
namespace {
constexpr double kBounce_s = 0.040;    // no finger presses again so soon: common practice, no source
constexpr double kDebounce_s = 0.010;  // key drivers report an edge this late: common practice, no source

/// What one key did in one part of the check. A contact that closes again within 40 ms after it opened has
/// bounced: the press goes on.
struct Presses {
  std::int64_t seen = 0, bounces = 0, ended = 0;
  double longest_s = 0;
};

Presses presses_of(const Keys::Capture& c, int code, Keys::Phase phase) {
  Presses p;
  bool down = false, released = false;  // `released`: the press that began last has ended, as far as seen
  double began_s = 0, released_s = 0;
  const auto end = [&] {
    if (!released) return;
    p.longest_s = std::max(p.longest_s, released_s - began_s);
    ++p.ended;
  };
  for (const auto& e : c.events) {
    if (e.lid || e.code != code || e.phase != phase || e.down == down) continue;
    down = e.down;
    if (!e.down) {
      released = true;
      released_s = e.t_s;
      continue;
    }
    if (released && e.t_s - released_s < kBounce_s) {
      ++p.bounces;
    } else {
      end();
      began_s = e.t_s;
      ++p.seen;
    }
    released = false;
  }
  end();
  return p;
}

bool holds(const std::vector<int>& codes, int code) {
  return std::find(codes.begin(), codes.end(), code) != codes.end();
}

bool torn(const Keys::Capture& c) {
  return std::any_of(c.events.begin(), c.events.end(), [](const auto& e) {
    return !std::isfinite(e.t_s) || e.phase < Keys::Phase::rest || e.phase > Keys::Phase::fold;
  });
}
}  // namespace

Result<Measured> Keys::measure(const Capture& capture, const Config& config) {
  if (torn(capture))
    return Error{ErrorCode::bad_format, "the capture is torn: an event has no time or no place", "keys",
                 "Run the check again."};
  Measured out;
  const auto add = [&](Term key, const ShopText& part, double value, double u, Term unit, std::int64_t n) {
    out.measures.push_back({key, part, value, u, unit, n});
  };
  for (const Key& key : config.keys) {
    if (!holds(capture.asked, key.code))
      return Error{ErrorCode::bad_format, "the capture lacks a key of the profile", "keys",
                   "Run the check again."};
    const auto at_rest = presses_of(capture, key.code, Phase::rest);
    const auto asked = presses_of(capture, key.code, Phase::presses);
    const std::int64_t n = config.presses;
    const bool stuck = holds(capture.down_at_rest, key.code) || holds(capture.down_after, key.code);
    add("keys.presses_seen", key.name, static_cast<double>(asked.seen), 0, "1", n);
    add("keys.presses_missed", key.name, static_cast<double>(std::max<std::int64_t>(0, n - asked.seen)), 0,
        "1", n);
    add("keys.bounces", key.name, static_cast<double>(asked.bounces), 0, "1", asked.seen);
    if (asked.ended > 0)  // both edges may be late by up to the debounce time
      add("keys.longest_press_s", key.name, asked.longest_s, kDebounce_s * std::sqrt(2.0 / 12.0), "s",
          asked.ended);
    add("keys.presses_at_rest", key.name, static_cast<double>(at_rest.seen + at_rest.bounces), 0, "1", 1);
    add("keys.stuck_at_rest", key.name, stuck ? 1 : 0, 0, "1", 2);
  }
  if (config.lid_switch && capture.folded) {
    const auto toggles = std::count_if(capture.events.begin(), capture.events.end(),
                                       [](const auto& e) { return e.lid && e.phase == Phase::fold; });
    add("keys.lid_toggles", {}, static_cast<double>(toggles), 0, "1", 1);
    add("keys.lid_toggles_off", {}, std::abs(static_cast<double>(toggles) - 2), 0, "1", 1);
  }
  return out;
}

}  // namespace hb::checks
