/// A bad cable: relays the debug link between a bench and a phone over real sockets and does one kind of harm
/// to it, decided by a seed. It knows packet borders (24-byte header with the payload's length), so that it
/// can lose, repeat or damage whole packets as well as bytes.
/// Threads: the io_context's one thread. Destroy it when no handler runs.
#pragma once

#include <cstdint>
#include <memory>
#include <string_view>

#include "harness/net/asio.hpp"

namespace hb::test {
enum class Harm {
  none,        ///< relays
  split,       ///< every byte arrives, in pieces of any size
  delay,       ///< some packets are late by up to 40 ms, one by 1.5 s
  drop,        ///< one packet is lost
  lose_bytes,  ///< some bytes inside one packet are lost, so that both ends are out of step
  repeat,      ///< one packet arrives twice
  corrupt,     ///< one bit of one packet is turned
  cut,         ///< the connection ends inside one packet; the next one holds
  cut_often,   ///< the connection ends several times
  gone,        ///< the connection ends and no other is taken
  silent       ///< from one packet on nothing arrives, and nobody is told; the next connection holds
};
inline constexpr Harm kHarms[] = {Harm::none,       Harm::split,  Harm::delay,   Harm::drop,
                                  Harm::lose_bytes, Harm::repeat, Harm::corrupt, Harm::cut,
                                  Harm::cut_often,  Harm::gone,   Harm::silent};
[[nodiscard]] std::string_view name(Harm harm) noexcept;

struct HarmPlan {
  Harm harm = Harm::none;
  bool to_bench = true;         ///< the direction that is harmed, where only one is
  std::uint64_t at_packet = 1;  ///< counted in that direction over all connections, from 1
  std::uint64_t seed = 1;       ///< bits, sizes and times
};

class FaultProxy {
 public:
  virtual ~FaultProxy() = default;
  [[nodiscard]] static std::unique_ptr<FaultProxy> listen(net::io_context& io, std::uint16_t phone_port,
                                                          HarmPlan plan);
  [[nodiscard]] virtual std::uint16_t port() const = 0;
  /// How often harm was done.
  [[nodiscard]] virtual std::uint64_t harmed() const = 0;
};
}  // namespace hb::test
