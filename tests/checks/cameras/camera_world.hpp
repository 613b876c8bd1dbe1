/// Operator, page and phone round drawn charts, and the check run on them.
#pragma once

#include <gtest/gtest.h>

#include <cmath>
#include <functional>

#include "checks/cameras/cameras.hpp"
#include "drawn_chart.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks::testing {
using Seen = Cameras::Seen;

inline Cameras::Config config_of() {
  Cameras::Config c;
  c.cameras = {{ShopText("wide"), Facing::back, 0, 1280, 960},
               {ShopText("selfie"), Facing::front, 0, 1280, 960}};
  return c;
}

inline std::vector<Limit> limits(const std::vector<const char*>& parts = {"wide", "selfie"}) {
  const auto at = [](const char* key, const char* part, std::optional<double> lower,
                     std::optional<double> upper) {
    return Limit{std::string("cameras.") + key, *ShopText::screened(part, "part"), lower, upper,
                 LimitOrigin::common_practice};
  };
  std::vector<Limit> out{at("listed", "", static_cast<double>(parts.size()), {})};
  for (const char* part : parts)
    for (const auto& l : {at("present", part, 1, {}), at("mtf50_centre_cpp", part, 0.17, {}),
                          at("mtf50_worst_corner_cpp", part, 0.14, {}), at("corner_balance", part, 0.75, {}),
                          at("glare_pct", part, {}, 8), at("white_delta_e00", part, {}, 6),
                          at("shading_asymmetry_pct", part, {}, 20), at("stuck_pixels", part, {}, 4)})
      out.push_back(l);
  return out;
}

inline Frame copy_of(const Frame& f) {
  Frame c;
  c.width = f.width, c.height = f.height, c.rgb = f.rgb;
  return c;
}

/// Frame `i` of a lens; those of the good lens are drawn once.
inline Frame frame(Drawn d, int i) {
  static const std::vector<Frame> good = [] {
    std::vector<Frame> g;
    for (std::uint32_t s = 1; s <= 3; ++s) g.push_back(draw({.seed = s}));
    return g;
  }();
  if (d == Drawn{} && i < 3) return copy_of(good[static_cast<std::size_t>(i)]);
  d.seed = static_cast<std::uint32_t>(i + 1);
  return draw(d);
}

struct World final : Operator, net::Clock, Progress, PagePort {
  std::map<std::pair<Facing, int>, Drawn> lenses{{{Facing::back, 0}, {}}, {{Facing::front, 0}, {}}};
  ErrorCode open_fails = ErrorCode::internal;   // internal: opens
  ErrorCode frames_fail = ErrorCode::internal;  // internal: frames come
  bool allowed = false, nobody = false;
  int points = 0, chart_from_try = 1;
  std::vector<Seen> hints;
  std::function<void(Drawn&)> badly;  // how it is held until `good_from_try`
  int good_from_try = 1;
  /// In place of drawn lenses: how many cameras face a way, and what one sees in frame `i`.
  std::function<int(Facing)> counted;
  std::function<std::optional<Frame>(Facing, int index, std::uint64_t i)> picture;
  /// What a camera sees when it is driven: frame `i` of a take at a focus setting.
  std::function<Result<Frame>(CameraAsk, double share, std::uint64_t i)> focused;
  /// And with its light off or on, under a finger or not.
  std::function<Result<Frame>(CameraAsk, bool lit, std::uint64_t i)> lamp;
  int fingers = 0;
  std::string aimed;
  bool first_aim = true;
  std::uint64_t taken = 0;
  net::BenchTime now_{0};

  net::BenchTime now() const override { return now_; }
  net::awaitable<Result<void>> wait(std::chrono::milliseconds d) override {
    now_ += d;
    co_return Result<void>{};
  }
  Term kind() const override { return "test"; }
  net::awaitable<Result<void>> begin(Action action) override {
    fingers += std::holds_alternative<CoverLight>(action);
    if (std::holds_alternative<AllowOnPage>(action)) allowed = !nobody;
    if (const auto* aim = std::get_if<PointAtChart>(&action))
      first_aim = aimed != aim->camera.str(), aimed = aim->camera.str(), ++points, hints.push_back(aim->last);
    co_return Result<void>{};
  }
  net::awaitable<Result<bool>> done() override { co_return !nobody; }
  net::awaitable<Result<void>> enough() override { co_return Result<void>{}; }
  void step(double, Term) override {}
  net::awaitable<Result<void>> open() override {
    if (open_fails != ErrorCode::internal) co_return Error{open_fails, "no", "", ""};
    co_return Result<void>{};
  }
  net::awaitable<Result<int>> cameras(Facing facing) override {
    if (counted) co_return counted(facing);
    int n = 0;
    for (const auto& [k, v] : lenses) n += k.first == facing;
    co_return n;
  }
  net::awaitable<Result<void>> frames(Facing facing, int index, int width, int height, int count,
                                      FrameSink sink) override {
    if (frames_fail != ErrorCode::internal) co_return Error{frames_fail, "no", "", ""};
    if (!allowed) co_return Error{ErrorCode::refused, "nobody allowed it", "", ""};
    if (picture) {
      for (int i = 0; i < count; ++i) {
        auto f = picture(facing, index, taken);
        if (!f) co_return Error{ErrorCode::not_found, "no such camera", "", ""};
        f->t_ms = static_cast<double>(taken++) * 1000 / 30;
        sink(i, *f);
      }
      co_return Result<void>{};
    }
    const auto it = lenses.find({facing, index});
    if (it == lenses.end()) co_return Error{ErrorCode::not_found, "no such camera", "", ""};
    Drawn d = it->second;
    if (d.width == 1280) d.width = width, d.height = height;
    if (points < chart_from_try) d.chart = false;
    if (points < good_from_try && badly) badly(d);
    for (int i = 0; i < count; ++i) sink(i, frame(d, i));
    co_return Result<void>{};
  }
  net::awaitable<Result<void>> focus_frames(CameraAsk ask, int steps, int each, FrameSink sink) override {
    if (!focused) co_return Error{ErrorCode::unsupported, "not offered", "", ""};
    for (int i = 0; i < steps * each; ++i) {
      auto f = focused(ask, static_cast<double>(i / each) / (steps - 1), taken++);
      if (!f) co_return f.error();
      sink(i, *f);
    }
    co_return Result<void>{};
  }
  net::awaitable<Result<void>> light_frames(CameraAsk ask, int dark, int lit, FrameSink sink) override {
    if (!lamp) co_return Error{ErrorCode::unsupported, "not offered", "", ""};
    for (int i = 0; i < 2 * dark + lit; ++i) {
      auto f = lamp(ask, i >= dark && i < dark + lit, taken++);
      if (!f) co_return f.error();
      sink(i, *f);
    }
    co_return Result<void>{};
  }
  net::awaitable<Result<void>> close() override { co_return Result<void>{}; }
};

struct FakePhone final : phone::Phone {
  int total = 2;
  net::awaitable<Result<phone::CameraCount>> cameras() override {
    phone::CameraCount c;
    c.total = total;
    co_return c;
  }
  static Error none() { return {ErrorCode::unsupported, "not in this test", "", ""}; }
  net::awaitable<Result<double>> uptime_s() override { co_return none(); }
  net::awaitable<Result<phone::InputDevices>> input_devices() override { co_return none(); }
  net::awaitable<Result<std::unique_ptr<phone::TouchStream>>> touch(int) override { co_return none(); }
  net::awaitable<Result<void>> wake() override { co_return none(); }
  net::awaitable<Result<phone::Identity>> identity(Bytes) override { co_return none(); }
  net::awaitable<Result<bool>> is_model(std::string, std::string) override { co_return none(); }
  net::awaitable<Result<int>> sdk() override { co_return none(); }
  net::awaitable<Result<phone::BatteryReading>> battery() override { co_return none(); }
  net::awaitable<Result<phone::CellReading>> cell(std::string) override { co_return none(); }
  net::awaitable<Result<void>> start_load(int, int) override { co_return none(); }
  net::awaitable<Result<void>> stop_load() override { co_return none(); }
  net::awaitable<Result<phone::SensorReading>> sensor(int) override { co_return none(); }
  net::awaitable<Result<phone::DeviceState>> device_state() override { co_return none(); }
  net::awaitable<Result<phone::ThermalReading>> thermal() override { co_return none(); }
  net::awaitable<Result<phone::DisplaySize>> display_size() override { co_return none(); }
  net::awaitable<Result<void>> open_page(std::string, std::uint16_t, std::string) override {
    co_return none();
  }
  link::Link& link() override { throw std::logic_error("no link in this test"); }
};

inline Result<Cameras::Capture> capture_of(World& w, FakePhone& phone, bool page = true,
                                           const Cameras::Config& config = config_of()) {
  net::io_context io;
  std::optional<Result<Cameras::Capture>> out;
  Context context{phone, page ? &w : nullptr, w, w, w};
  net::co_spawn(
      io, [&]() -> net::awaitable<void> { out.emplace(co_await Cameras{}.acquire(context, config)); },
      net::detached);
  io.run();
  return std::move(*out);
}

inline Result<CheckResult> judge(const Cameras::Capture& c, const Cameras::Config& config = config_of(),
                                 const std::vector<Limit>& lim = limits()) {
  return finish_result(Cameras::needs(), Cameras::measure(c, config), lim,
                       [&](std::span<const Verdict> v) { return Cameras::diagnose(v, c, config); });
}

inline double value(const CheckResult& r, std::string_view key, std::string_view part = "wide") {
  for (const Verdict& v : r.verdicts)
    if (v.measure.key.view() == std::string("cameras.") + std::string(key) && v.measure.part.str() == part)
      return v.measure.value;
  return NAN;
}
}  // namespace hb::checks::testing
