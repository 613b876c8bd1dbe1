/// Keeps the pictures of a take, for tests that look at them.
#pragma once

#include <utility>
#include <vector>

#include "checks/check.hpp"

namespace hb::page::test {

/// The frames by their number.
inline net::awaitable<Result<std::vector<checks::Frame>>> take(checks::PagePort& page, checks::Facing facing,
                                                               int index, int width, int height, int count) {
  std::vector<checks::Frame> kept(static_cast<std::size_t>(count > 0 ? count : 0));
  checks::FrameSink sink = [&](int i, const checks::Frame& f) {
    auto& k = kept.at(static_cast<std::size_t>(i));
    k.width = f.width, k.height = f.height, k.t_ms = f.t_ms, k.rgb = f.rgb;
  };
  auto done = co_await page.frames(facing, index, width, height, count, std::move(sink));
  if (!done) co_return done.error();
  co_return std::move(kept);
}
}  // namespace hb::page::test
