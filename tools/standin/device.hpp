/// The seam inside the stand-in phone: the wire side (daemon) asks for services, the phone side answers.
/// Threads: everything runs on the stand-in's one io_context thread.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "harness/net/asio.hpp"

namespace hb::standin {

/// Where a running command prints. The wire side implements it; calls after the peer has gone are ignored.
class Output {
 public:
  virtual ~Output() = default;
  virtual void out(std::string_view text) = 0;
  virtual void err(std::string_view text) = 0;
  virtual void exit(int code) = 0;              ///< ends the stream after what was printed
  [[nodiscard]] virtual bool gone() const = 0;  ///< the peer closed the stream or the link
};

/// The phone side.
class Services {
 public:
  virtual ~Services() = default;
  /// Banner properties, without features: "ro.product.name" and so on.
  [[nodiscard]] virtual std::map<std::string, std::string> banner() const = 0;
  /// Runs `command` (already without the service prefix). May print and exit later: keeps `output`.
  virtual void shell(std::string command, bool pty, std::shared_ptr<Output> output) = 0;
  /// Files for the sync service: a few readable ones and a scratch folder in memory.
  [[nodiscard]] virtual std::optional<std::string> read_file(const std::string& path) = 0;
  /// The same without a copy, where the phone side can; nullptr: no such file.
  [[nodiscard]] virtual std::shared_ptr<const std::string> shared_file(const std::string& path) {
    auto file = read_file(path);
    return file ? std::make_shared<const std::string>(std::move(*file)) : nullptr;
  }
  [[nodiscard]] virtual bool write_file(const std::string& path, std::string content) = 0;
  /// A reverse forward was made or removed: the phone side now may connect to 127.0.0.1:port (a real socket
  /// that the daemon listens on).
  virtual void forwards_changed() = 0;
};

struct DaemonOptions {
  std::uint16_t port = 0;       ///< 0: any; on 127.0.0.1 only
  bool ask_for_key = true;      ///< AUTH required; a new public key is accepted after `dialog`
  net::milliseconds dialog{0};  ///< how long the "owner" thinks
  bool accept_keys = true;      ///< false: nobody ever taps Allow
  std::uint32_t max_payload = 1u << 20;
  std::uint32_t version = 0x01000001;
  bool delayed_ack = false;
  std::string features = "shell_v2,cmd,stat_v2,ls_v2";
};

/// The device end of the wire protocol on TCP. Several hosts may connect at once, as on a real phone.
class Daemon {
 public:
  virtual ~Daemon() = default;
  /// Listens at once. Throws boost::system::system_error when the port is taken.
  [[nodiscard]] static std::unique_ptr<Daemon> listen(net::io_context& io, Services& services,
                                                      DaemonOptions options);
  [[nodiscard]] virtual std::uint16_t port() const = 0;
  /// Cable pulled: drops every connection now and refuses new ones until plug() is called.
  virtual void pull() = 0;
  virtual void plug() = 0;
  /// Drops the connections after this many more packets from the host (tests at every point of a run).
  virtual void pull_after_packets(std::uint64_t n, net::milliseconds back_after) = 0;
};
}  // namespace hb::standin
