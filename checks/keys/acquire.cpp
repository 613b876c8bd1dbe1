// The only part that waits. Events are told apart by the part of the check in which they came, not by the
// bench's clock: the kernel stamps them with a clock that stands still while a phone sleeps.
#include <algorithm>

#include "checks/follow.hpp"
#include "checks/keys/keys.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
using namespace std::chrono_literals;
constexpr auto kPoll = 100ms;               // bench time
constexpr auto kActionLimit = 90s;          // bench time
constexpr net::milliseconds kRead{10};      // wall time that a read may wait for events
constexpr net::milliseconds kDrain{250};    // wall time of silence that counts as "all came"
constexpr net::milliseconds kFinish{5000};  // wall time for the phone's reader to end
constexpr int kReadsAPoll = 64;
constexpr double kRest_s = 2;
constexpr int kEvKey = 1, kEvSwitch = 5, kSwitchLid = 0;

class Listener {
 public:
  Listener(Context& context, const Keys::Config& config) : context_(context), config_(config) {}

  /// Opens a stream for each node that has one of the profile's keys, or the lid switch.
  awaitable<Result<void>> open() {
    const auto devices = co_await context_.phone.input_devices();
    if (!devices) co_return devices.error();
    for (const auto& key : config_.keys)
      if (!listed(*devices, key.code))
        co_return Error{ErrorCode::unsupported, "the phone lists no device with a key that the profile names",
                        "key.code", "Compare the profile with the model."};
    if (config_.lid_switch && !devices->has_lid_switch)
      co_return Error{ErrorCode::unsupported, "the phone lists no lid switch, although the profile names one",
                      "keys.lid_switch", "Compare the profile with the model."};
    for (const auto& device : devices->keys) {
      const bool wanted = std::any_of(device.keys.begin(), device.keys.end(), [&](int c) { return ours(c); });
      if (!wanted && !(config_.lid_switch && device.lid)) continue;
      auto stream = co_await context_.phone.touch(device.node);
      if (!stream) co_return stream.error();
      streams_.push_back(std::move(*stream));
    }
    co_return Result<void>{};
  }

  awaitable<Result<void>> follow(Action action) {
    Error late = not_done_in_time("keys");
    co_return co_await follow_through(
        context_, std::move(action), kActionLimit, [this] { return wait_and_take(); }, std::move(late));
  }

  /// Everything that came so far belongs to the phase that ends.
  awaitable<Result<void>> end_phase(Keys::Phase next) {
    const auto taken = co_await take(kDrain);
    if (!taken) co_return taken.error();
    phase_ = next;
    co_return Result<void>{};
  }

  /// Codes of the profile's keys that the phone lists as held down.
  awaitable<Result<std::vector<int>>> held() {
    const auto devices = co_await context_.phone.input_devices();
    if (!devices) co_return devices.error();
    std::vector<int> out;
    for (const auto& d : devices->keys)
      for (const int code : d.down)
        if (ours(code)) out.push_back(code);
    std::sort(out.begin(), out.end());
    out.erase(std::unique(out.begin(), out.end()), out.end());
    co_return out;
  }

  /// A stream that is stuck may have swallowed presses: then nothing is judged.
  awaitable<Result<void>> finish() {
    for (auto& s : streams_) {
      const auto last = co_await s->finish(kFinish);
      if (!last) co_return last.error();
      for (const auto& e : *last) keep(e);
      s->close();
    }
    co_return Result<void>{};
  }

  Keys::Capture capture;

 private:
  awaitable<Result<void>> wait_and_take() {
    const auto waited = co_await context_.clock.wait(kPoll);
    if (!waited) co_return waited.error();
    co_return co_await take(kRead);
  }
  [[nodiscard]] bool ours(int code) const {
    return std::any_of(config_.keys.begin(), config_.keys.end(), [&](auto& k) { return k.code == code; });
  }
  static bool listed(const phone::InputDevices& devices, int code) {
    return std::any_of(devices.keys.begin(), devices.keys.end(), [&](const auto& d) {
      return std::find(d.keys.begin(), d.keys.end(), code) != d.keys.end();
    });
  }
  awaitable<Result<void>> take(net::milliseconds wait) {
    for (auto& stream : streams_)
      for (int i = 0; i < kReadsAPoll; ++i) {
        const auto events = co_await stream->read(wait);
        if (!events) co_return events.error();
        if (events->empty()) break;
        for (const auto& e : *events) keep(e);
      }
    co_return Result<void>{};
  }
  void keep(const phone::InputEvent& e) {
    const bool lid = e.type == kEvSwitch && e.code == kSwitchLid && config_.lid_switch;
    const bool key = e.type == kEvKey && ours(e.code) && e.value <= 1;  // 2: the kernel's own repetition
    if (lid || key) capture.events.push_back({phase_, e.t_s, lid, lid ? 0 : e.code, e.value != 0});
  }

  Context& context_;
  Keys::Config config_;
  std::vector<std::unique_ptr<phone::TouchStream>> streams_;
  Keys::Phase phase_ = Keys::Phase::rest;
};
}  // namespace

awaitable<Result<Keys::Capture>> Keys::acquire(Context& context, Config config) const {
  Listener listener(context, config);
  const auto opened = co_await listener.open();
  if (!opened) co_return opened.error();

  context.progress.step(0, "touch nothing: looking for a key that is held down");
  Action rest = LeaveAlone{kRest_s};  // a local: GCC 12 destroys a braced temporary twice here
  const auto rested = co_await listener.follow(std::move(rest));
  if (!rested) co_return rested.error();
  const auto rest_ends = co_await listener.end_phase(Phase::presses);
  if (!rest_ends) co_return rest_ends.error();
  auto at_rest = co_await listener.held();
  if (!at_rest) co_return at_rest.error();
  listener.capture.down_at_rest = std::move(*at_rest);

  const double steps = static_cast<double>(config.keys.size()) + 1;
  double step = 0;
  for (const Key& key : config.keys) {
    context.progress.step(0.15 + 0.6 * step++ / steps, "press the keys as asked");
    Action press = PressKey{key.name, config.presses};
    const auto pressed = co_await listener.follow(std::move(press));
    if (!pressed) co_return pressed.error();
    listener.capture.asked.push_back(key.code);
  }
  const auto presses_end = co_await listener.end_phase(Phase::presses);
  if (!presses_end) co_return presses_end.error();
  auto after = co_await listener.held();
  if (!after) co_return after.error();
  listener.capture.down_after = std::move(*after);

  if (config.lid_switch) {
    context.progress.step(0.8, "fold once");
    Action open = Unfold{};  // a phone that begins closed would change once more
    const auto flat = co_await listener.follow(std::move(open));
    if (!flat) co_return flat.error();
    const auto opened_flat = co_await listener.end_phase(Phase::fold);
    if (!opened_flat) co_return opened_flat.error();
    Action fold = FoldCycles{1};
    const auto folded = co_await listener.follow(std::move(fold));
    if (!folded) co_return folded.error();
    const auto fold_ends = co_await listener.end_phase(Phase::fold);
    if (!fold_ends) co_return fold_ends.error();
    listener.capture.folded = true;
  }
  const auto finished = co_await listener.finish();
  if (!finished) co_return finished.error();
  // The power key may have darkened the screen.
  const auto awake = co_await context.phone.wake();
  if (!awake && awake.error().code != ErrorCode::unsupported) co_return awake.error();
  context.progress.step(1, "done");
  co_return std::move(listener.capture);
}

}  // namespace hb::checks
