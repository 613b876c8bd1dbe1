/// Memory for the pictures of many phones: so much at once, first come first served, so that the memory of a
/// bench with 64 phones does not depend on how many of them look at their charts in the same second.
/// Threads: one; all its phones run on the same executor's thread.
#pragma once

#include <cstddef>
#include <list>
#include <memory>

#include "harness/base/result.hpp"
#include "harness/net/asio.hpp"

namespace hb::page {

class FrameRoom : public std::enable_shared_from_this<FrameRoom> {
 public:
  explicit FrameRoom(std::size_t bytes) : free_(bytes), all_(bytes) {}
  FrameRoom(const FrameRoom&) = delete;
  FrameRoom& operator=(const FrameRoom&) = delete;

  /// Waits until `bytes` are free (all of the room, if it is more than that) and holds them until the handle
  /// goes. Errors: cancelled. The object must be held by a shared_ptr.
  [[nodiscard]] net::awaitable<Result<std::shared_ptr<void>>> take(std::size_t bytes);
  [[nodiscard]] std::size_t free() const noexcept { return free_; }

 private:
  void give_back(std::size_t bytes);

  std::size_t free_, all_;
  std::list<net::asio::steady_timer*> waiting_;
};
}  // namespace hb::page
