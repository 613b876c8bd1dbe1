#include <algorithm>

#include "checks/cameras/cameras.hpp"
#include "checks/follow.hpp"
#include "drive.hpp"
#include "harness/phone/phone.hpp"
#include "judge.hpp"

namespace hb::checks {
namespace {
constexpr int kFrames = 3;
constexpr int kTries = 3;  // to get the chart into view

Error not_tested(const char* what, const char* next) {
  return {ErrorCode::unsupported, what, "cameras", next};
}

net::awaitable<Result<void>> open_page(Context& context) {
  auto opened = co_await context.page->open();
  if (!opened) {
    if (ends_the_check(opened.error())) co_return opened.error();
    co_return not_tested("the phone's browser could not open the bench's page",
                         "Unlock the phone, let it open the page, and run this check again.");
  }
  const AllowOnPage allow;
  auto allowed = co_await camera::follow_operator(context, allow);
  if (!allowed) co_return allowed.error();
  if (!*allowed)
    co_return not_tested("nobody allowed the camera on the phone's page",
                         "Tap Start and then Allow on the phone, and run this check again.");
  co_return Result<void>{};
}

/// A count, or -1 when it is not reported.
net::awaitable<Result<int>> reachable(Context& context, Facing facing) {
  auto n = co_await context.page->cameras(facing);
  if (n) co_return *n;
  switch (n.error().code) {
    case ErrorCode::link_lost:
    case ErrorCode::cancelled:
      co_return n.error();
    case ErrorCode::refused:
      co_return not_tested("the camera was refused on the phone's page",
                           "Ask the owner; to test it, tap Allow and run this check again.");
    default:
      co_return -1;
  }
}

/// The frames of one try; measured and gone when this returns. nullopt: no such camera.
net::awaitable<Result<std::optional<std::vector<Cameras::FrameNumbers>>>> look(Context& context,
                                                                               const Cameras::Camera& camera,
                                                                               const Cameras::Chart& chart) {
  std::vector<Cameras::FrameNumbers> numbers(kFrames);
  FrameSink sink = [&](int i, const Frame& f) {
    auto& n = numbers.at(static_cast<std::size_t>(i));
    const bool turned = f.width == camera.height && f.height == camera.width;
    if (f.width == camera.width && f.height == camera.height)
      n = Cameras::analyse(f, chart, camera.view_deg);
    else
      n.seen = turned ? Cameras::Seen::rolled : Cameras::Seen::wrong_size;
  };
  auto frames = co_await context.page->frames(camera.facing, camera.index, camera.width, camera.height,
                                              kFrames, std::move(sink));
  if (!frames) {
    if (frames.error().code == ErrorCode::not_found) co_return std::nullopt;
    if (frames.error().code == ErrorCode::refused)
      co_return not_tested("the camera was refused on the phone's page",
                           "Ask the owner; to test it, tap Allow and run this check again.");
    if (frames.error().code == ErrorCode::timed_out)
      co_return not_tested("a camera gave no picture in time",
                           "Close other camera programs and run it again.");
    co_return frames.error();
  }
  Cameras::mark_moved(numbers);
  co_return std::optional(std::move(numbers));
}

/// What a second aim, from a little elsewhere, shows where spots stayed in the first one. A picture in which
/// the chart cannot be measured tells nothing, and so does one that does not come: then the spots stay
/// undecided.
net::awaitable<Result<std::vector<camera::Elsewhere>>> look_elsewhere(Context& context,
                                                                      const Cameras::Camera& camera,
                                                                      const Cameras::Chart& chart,
                                                                      std::vector<camera::Spot> spots) {
  std::vector<camera::Elsewhere> out;
  const PointAtChart point{camera.name, Cameras::Seen::spots_stay};
  auto pointed = co_await camera::follow_operator(context, point);
  if (!pointed) co_return pointed.error();
  if (!*pointed) co_return std::move(out);
  FrameSink sink = [&](int, const Frame& f) {
    if (f.width != camera.width || f.height != camera.height) return;
    const auto n = Cameras::analyse(f, chart, camera.view_deg);
    if (n.seen != Cameras::Seen::measured) return;
    const camera::SpotSearch search(f);
    camera::Elsewhere look{n.pixels.map, {}};
    for (const camera::Spot& s : spots) look.at.push_back(search.at(s));
    out.push_back(std::move(look));
  };
  auto frames = co_await context.page->frames(camera.facing, camera.index, camera.width, camera.height,
                                              kFrames, std::move(sink));
  if (!frames && ends_the_check(frames.error())) co_return frames.error();
  co_return std::move(out);
}

/// What was wrong with a take; `measured`: nothing.
Cameras::Seen wrong_with(const std::vector<Cameras::FrameNumbers>& frames) {
  if (frames.empty()) return Cameras::Seen::no_chart;
  const auto bad = std::find_if(frames.begin(), frames.end(),
                                [](const auto& f) { return f.seen != Cameras::Seen::measured; });
  return bad == frames.end() ? Cameras::Seen::measured : bad->seen;
}

net::awaitable<Result<Cameras::CameraCapture>> one_camera(Context& context, const Cameras::Camera& camera,
                                                          const Cameras::Chart& chart) {
  Cameras::CameraCapture c;
  c.part = camera.name.str();
  auto wrong = Cameras::Seen::measured;
  for (int i = 0; i < kTries; ++i) {
    const PointAtChart point{camera.name, wrong};
    auto pointed = co_await camera::follow_operator(context, point);
    if (!pointed) co_return pointed.error();
    auto seen = co_await look(context, camera, chart);
    if (!seen) co_return seen.error();
    c.present = seen->has_value();
    if (!c.present) break;
    c.frames = std::move(**seen);
    const auto seen_now = wrong_with(c.frames);
    if (seen_now == Cameras::Seen::measured || seen_now == Cameras::Seen::wrong_size) break;
    wrong = seen_now;
  }
  if (c.present && wrong_with(c.frames) == Cameras::Seen::measured &&
      camera::standing(c, camera).undecided >= camera::kAimAgainFrom) {
    auto spots = camera::staying(camera::looks_of(c));
    auto elsewhere = co_await look_elsewhere(context, camera, chart, std::move(spots));
    if (!elsewhere) co_return elsewhere.error();
    c.elsewhere = std::move(*elsewhere);
  }
  co_return std::move(c);
}
}  // namespace

net::awaitable<Result<Cameras::Capture>> Cameras::acquire(Context& context, const Config& config) const {
  if (context.page == nullptr)
    co_return not_tested("no browser may be used on this phone",
                         "Allow the phone's browser for this run, or look at the cameras by eye.");
  Capture capture;
  auto listed = co_await context.phone.cameras();
  if (listed)
    capture.listed = listed->total;
  else if (ends_the_check(listed.error()))
    co_return listed.error();
  context.progress.step(0, "open the page on the phone and allow the camera");
  auto opened = co_await open_page(context);
  if (!opened) co_return opened.error();
  auto back = co_await reachable(context, Facing::back);
  if (!back) co_return back.error();
  auto front = co_await reachable(context, Facing::front);
  if (!front) co_return front.error();
  capture.page_back = *back;
  capture.page_front = *front;
  for (std::size_t i = 0; i < config.cameras.size(); ++i) {
    const double so_far = static_cast<double>(i) / static_cast<double>(config.cameras.size());
    context.progress.step(so_far, "aim the camera at the chart");
    const Camera& camera = config.cameras[i];
    if (camera::counted_anew(capture, config, camera.facing) ||
        camera::reachable(capture, camera.facing) == 0) {
      CameraCapture none;
      none.part = camera.name.str();
      capture.cameras.push_back(std::move(none));
      continue;
    }
    auto one = co_await one_camera(context, camera, config.chart);
    if (!one) co_return one.error();
    if (camera.focus && one->present && wrong_with(one->frames) == Seen::measured) {
      context.progress.step(so_far, "keep the phone still: the camera's focus is moved");
      auto focus = co_await camera::look_at_focus(context, camera, config.chart);
      if (!focus) co_return focus.error();
      one->focus = std::move(*focus);
    }
    if (camera.light && one->present) {
      context.progress.step(so_far, "cover the camera and its light with a finger");
      auto light = co_await camera::look_at_light(context, camera);
      if (!light) co_return light.error();
      one->light = std::move(*light);
    }
    capture.cameras.push_back(std::move(*one));
  }
  context.progress.step(1, "cameras measured");
  co_return std::move(capture);
}
}  // namespace hb::checks
