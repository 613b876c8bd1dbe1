// The only part that waits. A sensor cannot be subscribed to from a shell: the platform's rings of recent
// events (10 of each active sensor, AOSP SensorService) are read again and again and merged by time stamp.
#include <map>

#include "checks/follow.hpp"
#include "checks/motion/motion.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
using namespace std::chrono_literals;
constexpr auto kPoll = 120ms;        // bench time: 10 events at 50 Hz are 200 ms
constexpr auto kActionLimit = 120s;  // bench time
constexpr int kAccelerometer = 1, kGyroscope = 4;
constexpr int kOrder[] = {2, 3, 4, 5, 6, 1};  // it ends lying screen up

using Ring = std::map<double, std::array<double, 3>>;

awaitable<Result<void>> read_into(Context& context, int type, double from_s, Ring* into) {
  const auto sensor = co_await context.phone.sensor(type);
  if (!sensor) co_return sensor.error();
  for (const auto& e : sensor->events)
    if (e.t_s >= from_s && e.values.size() >= 3)
      into->emplace(e.t_s, std::array{e.values[0], e.values[1], e.values[2]});
  co_return Result<void>{};
}

awaitable<Result<void>> lay(Context& context, int face) {
  Action action = LayOnFace{static_cast<Face>(face)};
  Error late{ErrorCode::timed_out, "the phone was not laid as asked in time", "motion",
             "Run the check again and follow the prompts."};
  co_return co_await follow_through(
      context, std::move(action), kActionLimit, [&context] { return context.clock.wait(kPoll); },
      std::move(late));
}

std::vector<Motion::Sample> taken(const Ring& ring) {
  std::vector<Motion::Sample> out;
  for (const auto& [t_s, value] : ring) out.push_back({t_s, value});
  return out;
}

awaitable<Result<Motion::Face>> listen(Context& context, Motion::Config config, int face) {
  const auto from_s = co_await context.phone.uptime_s();
  if (!from_s) co_return from_s.error();
  Ring accelerometer, gyroscope;
  const auto until = context.clock.now() +
                     std::chrono::duration_cast<net::BenchTime>(std::chrono::duration<double>(config.rest_s));
  while (context.clock.now() < until) {
    const auto waited = co_await context.clock.wait(kPoll);
    if (!waited) co_return waited.error();
    const auto felt = co_await read_into(context, kAccelerometer, *from_s, &accelerometer);
    if (!felt) co_return felt.error();
    if (!config.gyroscope) continue;
    const auto turned = co_await read_into(context, kGyroscope, *from_s, &gyroscope);
    if (!turned) co_return turned.error();
  }
  co_return Motion::Face{face, taken(accelerometer), taken(gyroscope)};
}
}  // namespace

awaitable<Result<Motion::Capture>> Motion::acquire(Context& context, Config config) const {
  const auto sensor = co_await context.phone.sensor(kAccelerometer);
  if (!sensor) co_return sensor.error();
  if (!sensor->listed)
    co_return Error{ErrorCode::unsupported, "this phone lists no accelerometer", "motion", ""};
  if (sensor->masked && sensor->events.empty())
    co_return Error{ErrorCode::unsupported, "this phone hides the values of its motion sensors", "motion",
                    ""};
  Capture capture;
  for (const int face : kOrder) {
    context.progress.step(static_cast<double>(capture.faces.size()) / 6, "lay the phone on its faces");
    const auto laid = co_await lay(context, face);
    if (!laid) co_return laid.error();
    auto heard = co_await listen(context, config, face);
    if (!heard) co_return heard.error();
    if (heard->accelerometer.empty())
      co_return Error{
          ErrorCode::unsupported, "the accelerometer showed no events: not exercised", "motion",
          "Switch automatic rotation on, or open an app that uses motion, and run the check again."};
    capture.faces.push_back(std::move(*heard));
  }
  context.progress.step(1, "done");
  co_return capture;
}

}  // namespace hb::checks
