#include "checks/follow.hpp"
#include "drive.hpp"

namespace hb::checks::camera {
namespace {
constexpr int kSettings = 6, kEach = 1;
constexpr int kTries = 2;
}  // namespace

net::awaitable<Result<FocusCapture>> look_at_focus(Context& context, Cameras::Camera camera, Chart chart) {
  FocusCapture focus;
  for (int i = 0; i < kTries; ++i) {
    if (i > 0) {
      const PointAtChart again{camera.name, ChartSeen::moved};
      const auto aimed = co_await follow_operator(context, again);
      if (!aimed) co_return aimed.error();
    }
    focus.frames = std::vector<FocusFrame>(kSettings * kEach);
    FrameSink sink = [&](int n, const Frame& f) {
      auto& into = focus.frames.at(static_cast<std::size_t>(n));
      into = {};
      if (f.width == camera.width && f.height == camera.height) into = read_focus(f, chart, camera.view_deg);
    };
    const CameraAsk ask{camera.facing, camera.index, camera.width, camera.height};
    const auto taken = co_await context.page->focus_frames(ask, kSettings, kEach, std::move(sink));
    if (!taken) {
      if (ends_the_check(taken.error())) co_return taken.error();
      focus.frames.clear();
      focus.offered = taken.error().code != ErrorCode::unsupported;
      co_return std::move(focus);
    }
    focus.offered = true;
    if (fit_focus(focus.frames)) break;
  }
  co_return std::move(focus);
}
}  // namespace hb::checks::camera
