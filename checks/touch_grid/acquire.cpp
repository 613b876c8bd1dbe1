#include <algorithm>
#include <array>
#include <optional>
#include <set>

#include "checks/follow.hpp"
#include "checks/touch_grid/touch_grid.hpp"
#include "decode.hpp"
#include "harness/phone/phone.hpp"
#include "touch_map.hpp"

namespace hb::checks {
namespace {
using namespace std::chrono_literals;
constexpr double kRest_s = 4;
constexpr auto kPoll = 200ms;               // bench time
constexpr auto kSweepLimit = 4min;          // bench time
constexpr auto kSettle = 300ms;             // bench time: a finger that is just leaving is no ghost
constexpr net::milliseconds kRead{10};      // wall time that a read may wait for events
constexpr net::milliseconds kDrain{150};    // wall time of silence that counts as "all came"
constexpr net::milliseconds kFinish{5000};  // wall time for the phone's reader to end
constexpr int kReadsAPoll = 64;

/// One display being read: everything that its coroutine needs across waits.
struct Reading {
  const TouchGrid::Display& display;
  Context& context;
  std::unique_ptr<phone::TouchStream> stream;
  TouchGrid::DisplayCapture capture;
  touch::Decoder decoder;
  touch::Painter painter;
  std::size_t painted = 0;

  Reading(const TouchGrid::Display& d, Context& c, std::unique_ptr<phone::TouchStream> s)
      : display(d), context(c), stream(std::move(s)), decoder(d), painter(d) {
    capture.part = d.name.str();
    capture.found = true;
  }

  /// Reads until nothing more is waiting.
  net::awaitable<Result<void>> take(net::milliseconds wait) {
    for (int i = 0; i < kReadsAPoll; ++i) {
      auto events = co_await stream->read(wait);
      if (!events) co_return events.error();
      if (events->empty()) break;
      decoder.feed(*events, capture);
    }
    co_return Result<void>{};
  }

  /// The digitizer's time up to which all that came so far belongs to what was going on. What a phone's other
  /// clocks say is not compared with it: its own stands still while the phone sleeps, uptime does not.
  net::awaitable<Result<std::int64_t>> boundary() {
    auto taken = co_await take(kDrain);
    if (!taken) co_return taken.error();
    co_return decoder.last_event_us();
  }

  /// One reading while nobody should touch the panel.
  net::awaitable<Result<void>> poll_rest(net::BenchTime settled) {
    auto waited = co_await context.clock.wait(kPoll);
    if (!waited) co_return waited.error();
    auto taken = co_await take(kRead);
    if (!taken) co_return taken.error();
    if (context.clock.now() <= settled) capture.rest_from_us = decoder.last_event_us() + 1;
    co_return Result<void>{};
  }

  /// One reading of a sweep under way.
  net::awaitable<Result<void>> poll_sweep() {
    auto waited = co_await context.clock.wait(kPoll);
    if (!waited) co_return waited.error();
    auto taken = co_await take(kRead);
    if (!taken) co_return taken.error();
    paint();
    co_return Result<void>{};
  }

  void paint() {
    auto& map = painter.map();
    for (const auto& [col, row] : painter.paint(capture.points, painted))
      context.progress.cell(col, row, map.cols(), map.rows());
    painted = capture.points.t_us.size();
  }
};

net::awaitable<Result<TouchGrid::DisplayCapture>> read_display(Context& context,
                                                               const TouchGrid::Display& display, int node,
                                                               double share, double share_of) {
  auto stream = co_await context.phone.touch(node);
  if (!stream) co_return stream.error();
  Reading r(display, context, std::move(*stream));
  auto& c = r.capture;

  context.progress.step(share, "touch nothing: listening for ghost contacts");
  const auto settled = context.clock.now() + kSettle;
  const LeaveAlone rest{kRest_s};
  auto rested = co_await follow(context, rest, 60s, [&r, settled] { return r.poll_rest(settled); });
  if (!rested) co_return rested.error();
  auto t = co_await r.boundary();
  if (!t) co_return t.error();
  c.rest_to_us = std::max(*t, c.rest_from_us);

  context.progress.step(share + 0.2 * share_of, "run a finger over the whole panel");
  c.sweep_from_us = c.rest_to_us + 1;
  const SweepPanel sweep{display.name};
  auto swept = co_await follow(context, sweep, kSweepLimit, [&r] { return r.poll_sweep(); });
  if (!swept) co_return swept.error();
  if (*swept && c.points.t_us.empty()) {
    // A key pressed too early looks like a dead panel: the sweep is asked for once more.
    context.progress.step(share + 0.2 * share_of, "no touch was felt: once more over the whole panel");
    swept = co_await follow(context, sweep, kSweepLimit, [&r] { return r.poll_sweep(); });
    if (!swept) co_return swept.error();
  }
  c.gave_up = !*swept;
  auto last = co_await r.stream->finish(kFinish);
  if (!last) co_return last.error();
  r.decoder.feed(*last, c);
  c.sweep_to_us = std::max(r.decoder.last_event_us(), c.sweep_from_us);
  r.paint();
  c.bad_lines = static_cast<std::int64_t>(r.stream->bad_lines());
  r.stream->close();
  co_return std::move(r.capture);
}

/// The first touch device of the display's coordinate range that no other display took. Ranges may be given
/// by a profile as a size (one more): one count of slack.
std::optional<int> node_for(const TouchGrid::Display& d, const std::vector<phone::TouchDevice>& devices,
                            std::set<int>& taken) {
  for (const auto& device : devices) {
    if (std::abs(device.max_x - d.max_x) > 1 || std::abs(device.max_y - d.max_y) > 1) continue;
    if (taken.insert(device.node).second) return device.node;
  }
  return std::nullopt;
}
}  // namespace

net::awaitable<Result<TouchGrid::Capture>> TouchGrid::acquire(Context& context, const Config& config) const {
  auto devices = co_await context.phone.input_devices();
  if (!devices) co_return devices.error();
  Capture capture;
  capture.touch_nodes = static_cast<int>(devices->touch.size());
  if (capture.touch_nodes == 0)
    co_return Error{ErrorCode::unsupported, "the phone lists no touch device that can be read", "touch_grid",
                    "Unlock the phone, allow debugging and run this check again."};
  auto awake = co_await context.phone.wake();
  if (!awake && awake.error().code != ErrorCode::unsupported) co_return awake.error();
  std::set<int> taken;
  const double share_of = config.displays.empty() ? 1 : 1.0 / static_cast<double>(config.displays.size());
  double share = 0;
  for (const Display& d : config.displays) {
    const auto node = node_for(d, devices->touch, taken);
    if (!node) {
      DisplayCapture missing;
      missing.part = d.name.str();
      capture.displays.push_back(std::move(missing));
    } else {
      auto read = co_await read_display(context, d, *node, share, share_of);
      if (!read) co_return read.error();
      capture.displays.push_back(std::move(*read));
    }
    share += share_of;
  }
  context.progress.step(1, "panels swept");
  co_return std::move(capture);
}
}  // namespace hb::checks
