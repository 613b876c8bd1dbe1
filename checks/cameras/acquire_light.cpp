#include "checks/follow.hpp"
#include "drive.hpp"

namespace hb::checks::camera {
namespace {
constexpr int kDark = 3, kLit = 8;
constexpr int kTries = 2;
constexpr int kWidth = 160, kHeight = 120;  // only the mean counts
constexpr double kSurely = 0.1;  // a gain below is looked at once more before a light is called dark

bool shone(const LightCapture& light) {
  const auto gain = light_gain(light);
  return covered(light) && gain && gain->value > kSurely;
}
}  // namespace

net::awaitable<Result<LightCapture>> look_at_light(Context& context, Cameras::Camera camera) {
  LightCapture light;
  light.offered = true;
  for (int i = 0; i < kTries && !shone(light); ++i) {
    const CoverLight finger{camera.name, i > 0};
    const auto there = co_await follow_operator(context, finger);
    if (!there) co_return there.error();
    if (!*there) break;
    std::vector<LightLevel> levels(2 * kDark + kLit);
    FrameSink sink = [&](int n, const Frame& f) { levels.at(static_cast<std::size_t>(n)) = read_light(f); };
    const CameraAsk ask{camera.facing, camera.index, kWidth, kHeight};
    const auto taken = co_await context.page->light_frames(ask, kDark, kLit, std::move(sink));
    if (!taken && ends_the_check(taken.error())) co_return taken.error();
    if (!taken) {
      light.offered = taken.error().code != ErrorCode::unsupported;
      break;
    }
    const auto first = levels.begin() + kDark, last = first + kLit;
    light.before.assign(levels.begin(), first);
    light.lit.assign(first, last);
    light.after.assign(last, levels.end());
  }
  co_return std::move(light);
}
}  // namespace hb::checks::camera
