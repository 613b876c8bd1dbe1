#include "bench.hpp"

#include <algorithm>
#include <cmath>

namespace hb::checks::testing {
namespace {
constexpr double kSpeed_mm_s = 300;

class Stream final : public phone::TouchStream {
 public:
  Stream(Bench& b, int node) : bench_(b), node_(node) {}
  net::awaitable<Result<std::vector<phone::InputEvent>>> read(net::milliseconds) override {
    co_return bench_.events(node_);
  }
  net::awaitable<Result<std::vector<phone::InputEvent>>> finish(net::milliseconds) override {
    if (bench_.stream_stuck) co_return Error{ErrorCode::timed_out, "stuck", "", ""};
    co_return bench_.events(node_);
  }
  std::uint64_t bad_lines() const override { return 0; }
  void close() override {}

 private:
  Bench& bench_;
  int node_;
};
}  // namespace

net::awaitable<Result<std::unique_ptr<phone::TouchStream>>> FakePhone::touch(int node) {
  bench_.listened_node = node;
  std::unique_ptr<phone::TouchStream> s = std::make_unique<Stream>(bench_, node);
  co_return std::move(s);
}

net::awaitable<Result<void>> Bench::wait(std::chrono::milliseconds d) {
  now_ += d;
  co_return Result<void>{};
}

net::awaitable<Result<bool>> Bench::done() { co_return !never_done && uptime_s() >= busy_until_s_; }
net::awaitable<Result<void>> Bench::enough() { co_return Result<void>{}; }

net::awaitable<Result<void>> Bench::begin(Action action) {
  if (hands_fail) co_return *hands_fail;
  busy_until_s_ = uptime_s();
  if (const auto* still = std::get_if<LeaveAlone>(&action))
    for (const auto& [part, panel] : panels)
      if (panel.node == listened_node) rest(panel, still->seconds);
  if (const auto* wipe = std::get_if<SweepPanel>(&action)) {
    const auto it = panels.find(wipe->panel.str());
    if (++sweeps > forgotten_sweeps && it != panels.end()) sweep(it->second);
  }
  co_return Result<void>{};
}

std::vector<phone::InputEvent> Bench::events(int node) {
  std::vector<phone::InputEvent> out;
  auto& q = queue_[node];
  while (!q.empty() && q.front().t_s <= uptime_s()) out.push_back(q.front()), q.pop_front();
  return out;
}

void Bench::push(int node, double t, int type, int code, int value) {
  queue_[node].push_back({t, static_cast<std::uint16_t>(type), static_cast<std::uint16_t>(code), value});
}

void Bench::report(const Panel& p, double t, std::optional<Spot> at, std::mt19937& random) {
  std::normal_distribution<double> noise(0, p.noise_mm);
  if (at) at = Spot{at->x + noise(random), at->y + noise(random)};
  if (at && (p.dead(*at) || !p.felt)) at.reset();
  if (p.drop_at_s >= 0) {
    const double into = t - sweep_from_s_ - p.drop_at_s;
    if (into >= 0 && into < p.drop_for_s) {
      if (slot_.down) push(p.node, t, 0, 3, 0);
      if (!at) slot_.down = false;
      return;
    }
  }
  if (!at) {
    if (!slot_.down) return;
    slot_.down = false;
    push(p.node, t, 3, 0x39, -1);
    push(p.node, t, 0, 0, 0);
    return;
  }
  const int x = std::clamp(static_cast<int>(at->x / p.width_mm * (p.max_x + 1)), 0, p.max_x);
  const int y = std::clamp(static_cast<int>(at->y / p.height_mm * (p.max_y + 1)), 0, p.max_y);
  if (!slot_.down) push(p.node, t, 3, 0x39, next_id_++);
  if (x != slot_.x) push(p.node, t, 3, 0x35, x);  // unchanged values are not sent
  if (y != slot_.y) push(p.node, t, 3, 0x36, y);
  slot_ = {true, x, y};
  push(p.node, t, 0, 0, 0);
}

void Bench::rest(const Panel& p, double seconds) {
  std::mt19937 random(7);
  const double from = uptime_s();
  for (int i = 0; i < p.ghosts_at_rest; ++i) {
    const double t = from + 0.5 + i * 0.3;
    report(p, t, Spot{20, 30.0 + i}, random);
    report(p, t + 0.05, std::nullopt, random);
  }
  busy_until_s_ = from + seconds;
}

void Bench::stroke(const Panel& p, Spot from, Spot to, double& t, std::mt19937& random) {
  const double mm = std::hypot(to.x - from.x, to.y - from.y), step = kSpeed_mm_s / p.rate_hz;
  const int n = static_cast<int>(mm / step);
  for (int i = 0; i <= n; ++i, t += 1 / p.rate_hz) {
    const double f = static_cast<double>(i) / n;
    report(p, t, Spot{from.x + f * (to.x - from.x), from.y + f * (to.y - from.y)}, random);
  }
  report(p, t, std::nullopt, random);
  t += 0.1;
}

void Bench::sweep(const Panel& p) {
  std::mt19937 random(11);
  double t = sweep_from_s_ = uptime_s() + 1;
  const double k = p.edge_kept_mm, right = p.width_mm - k, bottom = p.height_mm - k;
  bool forth = true;
  for (double y = k + 1; y < bottom; y += p.stroke_pitch_mm, forth = !forth) {
    if (p.skip && p.skip(y)) continue;
    stroke(p, {forth ? k : right, y}, {forth ? right : k, y}, t, random);
  }
  stroke(p, {k, bottom}, {right, bottom}, t, random);
  if (p.guided) {
    stroke(p, {k, k}, {right, bottom}, t, random);
    stroke(p, {right, k}, {k, bottom}, t, random);
    stroke(p, {k, p.height_mm / 2}, {right, p.height_mm / 2}, t, random);
    stroke(p, {p.width_mm / 2, k}, {p.width_mm / 2, bottom}, t, random);
  }
  if (p.two_fingers && p.felt) {
    push(p.node, t, 3, 0x39, next_id_++);
    push(p.node, t, 3, 0x35, 100);
    push(p.node, t, 3, 0x36, 100);
    push(p.node, t, 3, 0x2f, 1);
    push(p.node, t, 3, 0x39, next_id_++);
    push(p.node, t, 3, 0x35, 500);
    push(p.node, t, 3, 0x36, 300);
    push(p.node, t, 0, 0, 0);
    push(p.node, t + 0.1, 3, 0x39, -1);
    push(p.node, t + 0.1, 3, 0x2f, 0);
    push(p.node, t + 0.1, 3, 0x39, -1);
    push(p.node, t + 0.1, 0, 0, 0);
    t += 0.2;
  }
  busy_until_s_ = t;
}
}  // namespace hb::checks::testing
