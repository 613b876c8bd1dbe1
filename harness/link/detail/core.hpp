/// What a live link shares between its handle, its streams and its two coroutines (one reads, one writes).
/// Only those two touch the transport, so a caller that is cancelled never tears a packet.
///
/// Ownership: reader, writer, handles and waiting calls each hold a shared_ptr; fail() closes the transport,
/// which ends both coroutines, so that no cycle stays. Threads: one strand.
/// Memory: unread bytes a stream up to LinkOptions::max_unread_per_stream (or one packet, if larger), one
/// unsent WRTE a stream, kMaxQueued small packets; reading pauses while that many wait to be sent.
#pragma once

#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <string>

#include "harness/link/detail/handshake.hpp"
#include "harness/link/detail/signal.hpp"
#include "harness/link/link.hpp"
#include "harness/link/packet.hpp"

namespace hb::link::detail {

struct StreamState {
  enum class Phase { opening, open, ended };

  StreamState(const net::asio::any_io_executor& executor, std::uint32_t local_id)
      : local(local_id), readable(executor), writable(executor) {}

  std::uint32_t local, remote = 0;
  Phase phase = Phase::opening;
  bool refused = false;
  std::optional<Error> failure;

  std::deque<Bytes> unread;
  std::size_t unread_bytes = 0;
  bool okay_owed = false;  ///< plain flow control: the peer waits for our OKAY

  bool queued = false;      ///< one WRTE of ours waits in the link's queue
  bool may_send = false;    ///< plain flow control: no WRTE of ours is in flight
  std::int64_t credit = 0;  ///< delayed acks: bytes that we may send now

  bool reading = false, writing = false;
  Signal readable, writable;
};
using StreamPtr = std::shared_ptr<StreamState>;

class Core : public std::enable_shared_from_this<Core> {
 public:
  using Self = std::shared_ptr<Core>;
  using Acceptor = Link::Acceptor;

  Core(net::asio::any_io_executor executor, std::unique_ptr<Transport> transport, BenchRsaKey key,
       LinkOptions options);
  Core(const Core&) = delete;
  Core& operator=(const Core&) = delete;

  /// Starts both coroutines and greets the phone.
  void start();
  [[nodiscard]] static net::awaitable<Result<void>> come_online(Self self);

  [[nodiscard]] static net::awaitable<Result<std::unique_ptr<Stream>>> open(Self self, std::string service,
                                                                            TimePoint deadline);
  [[nodiscard]] static net::awaitable<Result<Bytes>> read(Self self, StreamPtr s, TimePoint deadline);
  [[nodiscard]] static net::awaitable<Result<void>> write(Self self, StreamPtr s, Bytes data,
                                                          TimePoint deadline);
  void close(StreamState& s);

  /// False when a forward to this port exists already.
  [[nodiscard]] bool add_forward(std::uint16_t host_port, Acceptor acceptor);
  void drop_forward(std::uint16_t host_port);

  /// Ends the link once: every stream and every waiter gets `why`.
  void fail(Error why);
  [[nodiscard]] const std::optional<Error>& failure() const noexcept { return failure_; }
  [[nodiscard]] const Agreed& agreed() const noexcept { return handshake_.agreed(); }
  [[nodiscard]] std::string_view kind() const noexcept { return kind_; }

 private:
  [[nodiscard]] static net::awaitable<void> run_reader(Self self);
  [[nodiscard]] static net::awaitable<void> run_writer(Self self);
  void watch_write();

  void handle(Packet p, std::uint64_t offset);
  void handle_opening(const Packet& p);
  void on_open(const Packet& p);
  void on_okay(const Packet& p, std::uint64_t offset);
  void on_write(Packet p, std::uint64_t offset);
  void on_close(const Packet& p);

  [[nodiscard]] StreamPtr make_stream();
  [[nodiscard]] StreamPtr find(std::uint32_t local, std::uint32_t remote) const;
  void end(StreamState& s, std::optional<Error> failure);
  [[nodiscard]] Bytes take(StreamState& s);
  void acknowledge(StreamState& s, std::size_t consumed);
  [[nodiscard]] bool room_for_more(const StreamState& s) const;
  [[nodiscard]] std::size_t may_send_bytes(const StreamState& s) const;
  [[nodiscard]] std::uint32_t window() const;
  void send(std::uint32_t command, std::uint32_t arg0, std::uint32_t arg1, Bytes payload = {});
  [[nodiscard]] std::unique_ptr<Stream> handle_for(StreamPtr s);

  net::asio::any_io_executor executor_;
  std::unique_ptr<Transport> transport_;
  std::string_view kind_;
  LinkOptions options_;
  Handshake handshake_;
  PacketReader reader_;
  std::optional<Error> failure_;

  std::deque<Packet> out_;
  Signal out_ready_, drained_, opened_;
  net::asio::steady_timer watchdog_;
  std::uint64_t writes_ = 0;
  bool in_write_ = false;

  std::map<std::uint32_t, StreamPtr> streams_;
  std::uint32_t last_id_ = 0;
  std::map<std::string, std::shared_ptr<const Acceptor>, std::less<>> forwards_;
};

/// The Error of a link whose far end went away.
[[nodiscard]] Error lost(std::string what);
}  // namespace hb::link::detail
