/// What the link tests share: a phone side with a few commands and files, a bench, and an in-memory phone
/// that answers by script.
#pragma once

#include <gtest/gtest.h>

#include <deque>
#include <filesystem>
#include <fstream>
#include <functional>
#include <set>

#include "harness/link/detail/signal.hpp"
#include "harness/link/link.hpp"
#include "harness/link/packet.hpp"
#include "tools/standin/device.hpp"

namespace hb::test {
using namespace std::chrono_literals;

/// Runs until `work` is done. A test that hangs fails here after a minute.
template <class T>
net::awaitable<void> keep(net::awaitable<T> work, std::shared_ptr<std::optional<T>> into) {
  into->emplace(co_await std::move(work));
}
template <class T>
T run(net::io_context& io, net::awaitable<T> work) {
  const auto into = std::make_shared<std::optional<T>>();
  net::co_spawn(io, keep(std::move(work), into), [](std::exception_ptr e) {
    if (e) std::rethrow_exception(e);
  });
  io.restart();
  const auto until = std::chrono::steady_clock::now() + 60s;
  while (!*into) {
    if (io.run_one_until(until) == 0) throw std::runtime_error("the operation hangs");
  }
  return std::move(**into);
}

/// Bytes that are the same on every run and nowhere periodic in packet sizes.
inline std::string pattern(std::size_t n) {
  std::string s(n, '\0');
  std::uint32_t x = 12345;
  for (auto& c : s) {
    x = x * 1664525u + 1013904223u;
    c = static_cast<char>(x >> 24);
  }
  return s;
}

class FakeServices final : public standin::Services {
 public:
  std::map<std::string, std::string> banner() const override {
    return {{"ro.product.name", "petal_row"}, {"ro.product.model", "VM-P2"}, {"ro.product.device", "petal"}};
  }
  void shell(std::string command, bool pty, std::shared_ptr<standin::Output> output) override {
    last_pty = pty;
    const auto word = command.substr(0, command.find(' '));
    const auto rest = command.size() > word.size() ? command.substr(word.size() + 1) : std::string();
    if (word == "never") {
      running.push_back(std::move(output));
      return;
    }
    if (word == "echo") output->out(rest + "\n");
    if (word == "both") output->out("to out\n"), output->err("to err\n");
    if (word == "big") output->out(pattern(std::stoul(rest)));
    if (word == "getprop") output->out("VM-P2\n");
    output->exit(word == "exit" ? std::stoi(rest) : 0);
  }
  std::optional<std::string> read_file(const std::string& path) override {
    const auto at = files.find(path);
    return at == files.end() ? std::nullopt : std::optional(at->second);
  }
  bool write_file(const std::string& path, std::string content) override {
    if (!path.starts_with("/data/local/tmp/")) return false;
    files[path] = std::move(content);
    return true;
  }
  void forwards_changed() override { ++changes; }

  std::map<std::string, std::string> files;
  std::vector<std::shared_ptr<standin::Output>> running;
  bool last_pty = false;
  int changes = 0;
};

/// A folder of its own for one test.
class Folder {
 public:
  Folder() {
    auto name = (std::filesystem::temp_directory_path() / "handback-link-XXXXXX").string();
    if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
    path_ = name;
  }
  Folder(const Folder&) = delete;
  Folder& operator=(const Folder&) = delete;
  ~Folder() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  [[nodiscard]] std::filesystem::path operator/(std::string_view name) const { return path_ / name; }
  [[nodiscard]] const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// One key for the whole program: making one takes a noticeable part of a second.
inline const link::BenchRsaKey& bench_key() {
  static const link::BenchRsaKey key = [] {
    const Folder folder;
    return link::BenchRsaKey::load_or_make(folder / "key").value();
  }();
  return key;
}

inline net::awaitable<Result<std::shared_ptr<link::Link>>> connect(std::uint16_t port,
                                                                   link::LinkOptions options) {
  auto transport = co_await link::connect_tcp("127.0.0.1", port, 5s);
  if (!transport) co_return transport.error();
  co_return co_await link::Link::open(std::move(*transport), bench_key(), std::move(options));
}

/// A phone in memory: each packet of the bench goes to `on_packet`, what that returns is read by the bench.
class ScriptedPhone final : public link::Transport {
 public:
  struct Wire {
    explicit Wire(net::io_context& io) : readable(io.get_executor()) {}
    std::deque<Bytes> to_bench;
    std::vector<link::Packet> from_bench;
    std::function<std::vector<Bytes>(const link::Packet&)> on_packet;
    link::detail::Signal readable;
    bool closed = false;
    void say(Bytes bytes) {
      to_bench.push_back(std::move(bytes));
      readable.notify();
    }
  };
  ScriptedPhone(std::shared_ptr<Wire> wire, std::string_view kind) : wire_(std::move(wire)), kind_(kind) {}

  net::awaitable<Result<std::size_t>> read(std::span<std::uint8_t> into) override {
    const auto w = wire_;
    while (w->to_bench.empty()) {
      if (w->closed) co_return Error{ErrorCode::link_lost, "closed", "", ""};
      const auto waited = co_await w->readable.wait_until(std::chrono::steady_clock::now() + 1h);
      if (!waited) co_return waited.error();
    }
    auto& front = w->to_bench.front();
    const auto n = std::min(into.size(), front.size());
    std::copy_n(front.begin(), n, into.begin());
    front.erase(front.begin(), front.begin() + static_cast<std::ptrdiff_t>(n));
    if (front.empty()) w->to_bench.pop_front();
    co_return n;
  }
  net::awaitable<Result<void>> write(Bytes header, Bytes payload) override {
    const auto w = wire_;
    if (w->closed) co_return Error{ErrorCode::link_lost, "closed", "", ""};
    link::PacketReader reader(16u << 20);
    reader.set_limits(16u << 20, link::kVersionSkipChecksum);
    reader.feed(header);
    reader.feed(payload);
    const auto p = reader.next().value();
    if (!p) co_return Error{ErrorCode::internal, "the bench wrote half a packet", "", ""};
    w->from_bench.push_back(*p);
    if (w->on_packet)
      for (auto& answer : w->on_packet(*p)) w->say(std::move(answer));
    co_return Result<void>{};
  }
  void close() noexcept override {
    wire_->closed = true;
    wire_->readable.notify();
  }
  std::string_view kind() const noexcept override { return kind_; }

 private:
  std::shared_ptr<Wire> wire_;
  std::string_view kind_;
};

inline link::Packet packet(std::uint32_t command, std::uint32_t arg0, std::uint32_t arg1,
                           std::string_view payload = {}) {
  link::Packet p;
  p.command = command;
  p.arg0 = arg0;
  p.arg1 = arg1;
  p.payload.assign(payload.begin(), payload.end());
  return p;
}
inline Bytes wire(const link::Packet& p, std::uint32_t version = link::kVersionChecksum) {
  Bytes out = link::encode_header(p, version);
  out.insert(out.end(), p.payload.begin(), p.payload.end());
  return out;
}
inline link::Packet greeting(std::string_view features = "shell_v2") {
  return packet(link::kCnxn, link::kVersionSkipChecksum, 1u << 20,
                "device::ro.product.device=petal;features=" + std::string(features));
}
}  // namespace hb::test
