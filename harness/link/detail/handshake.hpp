/// The opening talk of a link as a pure state machine: packets in, an answer out. No waiting, no I/O.
/// Source: AOSP packages/modules/adb, protocol.txt and adb.cpp (CNXN, AUTH, STLS), read 2024 state.
/// Threads: a plain object.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <string_view>

#include "harness/link/link.hpp"
#include "harness/link/packet.hpp"

namespace hb::link::detail {

/// What both ends agreed on.
struct Agreed {
  std::uint32_t version = kVersionChecksum;
  std::uint32_t max_payload = kMaxPayloadV1;
  bool delayed_ack = false;
  std::map<std::string, std::string> banner;  ///< hostile text
  std::set<std::string, std::less<>> features;
};

struct Banner {
  std::string type;
  std::map<std::string, std::string> properties;  ///< without "features"
  std::set<std::string, std::less<>> features;
};
/// Total on any input: pieces without exactly one '=' are skipped.
[[nodiscard]] Banner parse_banner(std::string_view text);

class Handshake {
 public:
  enum class State { connecting, asking_owner, online };

  Handshake(BenchRsaKey key, std::uint32_t max_payload, bool delayed_ack);
  [[nodiscard]] Packet hello() const;
  /// The answer to send, if any. Packets that a former connection left behind are passed over.
  /// Errors: unsupported (TLS asked, or the phone is not in its normal system), unauthorised (the phone
  /// keeps asking after the key was shown), bad_format.
  [[nodiscard]] Result<std::optional<Packet>> on_packet(const Packet& p);
  [[nodiscard]] State state() const noexcept { return state_; }
  [[nodiscard]] const Agreed& agreed() const noexcept { return agreed_; }

 private:
  [[nodiscard]] Result<std::optional<Packet>> on_auth(const Packet& p);
  [[nodiscard]] Result<std::optional<Packet>> on_connect(const Packet& p);

  BenchRsaKey key_;
  std::uint32_t max_payload_;
  std::set<std::string, std::less<>> own_features_;
  State state_ = State::connecting;
  int tokens_ = 0;
  Agreed agreed_;
};
}  // namespace hb::link::detail
