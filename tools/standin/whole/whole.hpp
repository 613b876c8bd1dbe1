/// A whole stand-in phone in this process: unit, world, time, shell, browser, wire and fixture channel.
/// The program `standin` holds one; tests and benchmarks may hold many on one io_context.
/// Threads: the io_context's one thread. Destroy it before the io_context, when no handler runs.
#pragma once

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "tools/standin/device.hpp"

namespace hb::standin {
struct WholeOptions {
  std::string model = "petal";
  std::uint64_t seed = 1;
  std::vector<std::string> faults;  ///< NAME or NAME:DEGREE
  std::string clock = "stepped";    ///< see Pace::parse
  std::string browser = "builtin";  ///< builtin, none, or the path of a Chromium
  bool gossips = false;             ///< see tools/standin/gossip
  DaemonOptions wire;
  std::uint16_t jig_port = 0;  ///< 0: any
};

class Whole {
 public:
  /// Listens at once. invalid_argument: model, fault or clock is unknown. Throws boost::system::system_error
  /// when a port is taken.
  [[nodiscard]] static Result<std::unique_ptr<Whole>> start(net::io_context& io, const WholeOptions& options);
  virtual ~Whole() = default;
  [[nodiscard]] virtual Daemon& daemon() noexcept = 0;
  [[nodiscard]] virtual std::uint16_t port() const = 0;
  [[nodiscard]] virtual std::uint16_t jig_port() const = 0;
  /// Ends a browser that is a process of its own.
  virtual void close() = 0;
};
}  // namespace hb::standin
