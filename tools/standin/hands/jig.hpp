/// The fixture channel: JSON lines over TCP on 127.0.0.1, one request, one reply line, in order.
///   {"hello":1}                               {"ok":true,"clock":"stepped"|"wall"|"rate","rate":R}
///   {"begin":{"action":NAME,...}}             {"ok":true} or {"ok":false,"why":WORDS}
///   {"status":true}                           {"ok":true,"busy":BOOL,"now_ms":T}
///   {"enough":true}                           {"ok":true}
///   {"observe":INSPECTION,"part":NAME}        {"ok":true,"value":N}    checks/action/action.hpp
///   {"wait_ms":N}                             {"ok":true,"now_ms":T}   stepped clock only
///   {"pull":true} / {"plug":true}             {"ok":true}              the data cable
/// Anything else: {"ok":false,"why":WORDS}. A line above 4096 bytes ends the connection.
/// Threads: the io_context's thread.
#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

#include "harness/net/asio.hpp"
#include "tools/standin/hands/timekeeper.hpp"
#include "tools/standin/hands/world.hpp"

namespace hb::standin {
/// What a request does, without the socket.
class JigDesk {
 public:
  JigDesk(World& world, Timekeeper& time) : world_(world), time_(time) {}
  /// One request line in, one reply line out (without the line end). Total on any input.
  [[nodiscard]] std::string answer(std::string_view line);
  std::function<void()> on_pull, on_plug;

 private:
  [[nodiscard]] nlohmann::json reply_to(const nlohmann::json& request);

  World& world_;
  Timekeeper& time_;
};

class Jig {
 public:
  virtual ~Jig() = default;
  /// Throws boost::system::system_error when the port is taken. `desk` outlives the result.
  [[nodiscard]] static std::unique_ptr<Jig> listen(net::io_context& io, JigDesk& desk, std::uint16_t port);
  [[nodiscard]] virtual std::uint16_t port() const = 0;
};
}  // namespace hb::standin
