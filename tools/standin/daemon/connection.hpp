/// One host connected to the stand-in, and its streams: the device end of the wire protocol.
/// Source: AOSP packages/modules/adb (protocol.txt, adb.cpp, sockets.cpp), read 2024 state.
/// Threads: the stand-in's one io_context thread.
/// Ownership: coroutines and services hold shared_ptrs; drop() ends them all. After drop() no service of the
/// phone side is called any more.
#pragma once

#include <deque>
#include <functional>
#include <map>
#include <memory>
#include <random>
#include <set>
#include <string>

#include "harness/link/packet.hpp"
#include "keys.hpp"
#include "tools/standin/device.hpp"

namespace hb::standin {

class Connection;
class DeviceStream;

/// What all connections of one daemon share.
struct Shared {
  net::io_context& io;
  Services& services;
  DaemonOptions options;
  KeyRing keys;
  std::mt19937_64 random{20240229};  ///< tokens need not be secret here
  std::function<void(Connection&)> on_packet;
};

/// What stands behind one stream. Calls come from the stream only.
class Service {
 public:
  virtual ~Service() = default;
  /// Bytes from the host. Each must be given back with DeviceStream::consumed() sooner or later.
  virtual void data(Bytes bytes) = 0;
  /// All that was sent has left.
  virtual void drained() {}
  /// The host closed the stream or the link is gone. Called once, and not after finish().
  virtual void closed() {}
};

class DeviceStream : public std::enable_shared_from_this<DeviceStream> {
 public:
  DeviceStream(std::weak_ptr<Connection> connection, std::uint32_t local, std::uint32_t remote)
      : connection_(std::move(connection)), local_(local), remote_(remote) {}

  void send(ByteView bytes);
  void send(std::string_view text) { send(as_bytes(text)); }
  /// The same without a copy when the host takes it all at once.
  void send_whole(Bytes bytes);
  /// Closes once everything is sent.
  void finish();
  void consumed(std::size_t n);
  [[nodiscard]] bool gone() const noexcept { return ended_ || finishing_; }
  [[nodiscard]] bool empty() const noexcept { return sent_ == pending_.size(); }
  void serve(std::shared_ptr<Service> service) { service_ = std::move(service); }

 private:
  friend class Connection;
  void on_okay(std::uint32_t remote, ByteView payload, bool delayed);
  void on_closed();
  [[nodiscard]] std::size_t host_takes() const;
  void pass_on(Bytes piece);
  std::size_t send_now(ByteView bytes);
  void pump();

  std::weak_ptr<Connection> connection_;
  std::uint32_t local_, remote_;
  std::shared_ptr<Service> service_;
  std::string pending_;
  std::size_t sent_ = 0;  ///< bytes of pending_ that have left
  std::int64_t credit_ = 0;
  bool open_ = false, may_send_ = false, finishing_ = false, ended_ = false;
};

/// A port of the phone that leads to the host.
class Forward;

class Connection : public std::enable_shared_from_this<Connection> {
 public:
  Connection(net::tcp::socket socket, std::shared_ptr<Shared> shared);
  void start();
  /// Ends the connection now; `tell` the phone side when forwards go with it.
  void drop(bool tell);
  [[nodiscard]] bool closed() const noexcept { return closed_; }

  // For streams and services.
  void send(std::uint32_t command, std::uint32_t arg0, std::uint32_t arg1, Bytes payload = {});
  void forget(std::uint32_t local) { streams_.erase(local); }
  [[nodiscard]] bool delayed_ack() const noexcept { return delayed_ack_; }
  [[nodiscard]] std::uint32_t max_payload() const noexcept { return max_payload_; }
  [[nodiscard]] Shared& shared() noexcept { return *shared_; }
  /// Opens a stream towards the host for an accepted socket of the phone.
  void open_to_host(const std::string& destination, net::tcp::socket socket);
  /// The answer to a `reverse:` request, already done.
  [[nodiscard]] std::string reverse(std::string_view request);

 private:
  static net::awaitable<void> run_reader(std::shared_ptr<Connection> self);
  static net::awaitable<void> run_writer(std::shared_ptr<Connection> self);
  static net::awaitable<void> ask_owner(std::shared_ptr<Connection> self, std::string key);

  void on_packet(link::Packet p);
  void on_connect(const link::Packet& p);
  void on_auth(const link::Packet& p);
  void on_open(const link::Packet& p);
  void on_data(link::Packet p);
  void go_online();
  void send_token();
  void end_streams();
  void close_forwards(bool tell);
  [[nodiscard]] bool begin(std::string_view name, const std::shared_ptr<DeviceStream>& stream);
  [[nodiscard]] std::shared_ptr<DeviceStream> make_stream(std::uint32_t remote);
  [[nodiscard]] std::string add_forward(std::string_view spec);

  net::tcp::socket socket_;
  std::shared_ptr<Shared> shared_;
  link::PacketReader reader_;
  std::deque<link::Packet> out_;
  net::asio::steady_timer out_ready_;
  bool closed_ = false, online_ = false, delayed_ack_ = false;
  std::uint32_t version_ = link::kVersionChecksum, max_payload_ = link::kMaxPayloadV1;
  Bytes token_;
  std::map<std::uint32_t, std::shared_ptr<DeviceStream>> streams_;
  std::uint32_t last_id_ = 0;
  std::map<std::uint16_t, std::shared_ptr<Forward>> forwards_;
};

// ---------------------------------------------------------------------------------------------- services
/// `shell:`, `exec:` and `shell,v2,...:`; runs the command on the phone side.
void serve_shell(Services& services, const std::shared_ptr<DeviceStream>& stream, std::string command,
                 bool v2, bool pty);
/// `sync:` over the phone side's files.
void serve_sync(net::io_context& io, Services& services, const std::shared_ptr<DeviceStream>& stream);
/// Pumps an accepted socket of the phone through a stream to the host.
void serve_socket(const std::shared_ptr<DeviceStream>& stream, net::tcp::socket socket);

/// Bytes that either side of the stand-in takes unacknowledged with delayed acks.
inline constexpr std::uint32_t kWindow = 32u << 20;
[[nodiscard]] inline Bytes le32(std::uint32_t v) {
  Bytes out(4);
  for (std::size_t i = 0; i < 4; ++i) out[i] = static_cast<std::uint8_t>(v >> (8 * i) & 0xff);
  return out;
}
[[nodiscard]] inline std::uint32_t u32_at(ByteView b, std::size_t at) {
  std::uint32_t v = 0;
  for (std::size_t i = 0; i < 4; ++i) v |= std::uint32_t{b[at + i]} << (8 * i);
  return v;
}
}  // namespace hb::standin
