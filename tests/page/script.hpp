/// A phone's browser in the test's hands: requests as the page's script would send them.
#pragma once

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "tests/page/fakes.hpp"

namespace hb::page::test {
using nlohmann::json;

// Long enough for a busy machine; a case that waits for a deadline shortens that one.
inline PageOptions patient() {
  PageOptions o;
  o.hello = 8s, o.person = 8s, o.answer = 8s, o.silence = 16s, o.poll = 50ms;
  return o;
}

struct Reply {
  int status = 0;
  std::string body;
};

// A page script of the test's own, on one connection.
class Script {
 public:
  Script(FakePhone& phone, std::string token, std::uint16_t port)
      : phone_(phone), token_(std::move(token)), port_(port), wire_(phone.link_->connect()) {}

  net::awaitable<Reply> request(std::string method, std::string name, std::string body = {}) {
    if (wire_->harness_closed) wire_ = phone_.link_->connect();  // after a refusal
    const auto wire = wire_;
    wire->from_harness.clear();
    std::string head =
        fmt::format("{} /{}/{} HTTP/1.1\r\nHost: {}\r\n", method, token_, name, phone_.address(port_));
    if (method == "POST") head += fmt::format("Content-Length: {}\r\n", body.size());
    wire->send(head + "\r\n");
    if (!body.empty()) wire->send(body);
    for (;;) {
      const auto end = wire->from_harness.find("\r\n\r\n");
      if (end != std::string::npos)
        co_return Reply{std::stoi(wire->from_harness.substr(9, 3)), wire->from_harness.substr(end + 4)};
      if (wire->harness_closed || wire->lost) co_return Reply{};
      auto waited = co_await net::pause(1ms);
      if (!waited) co_return Reply{};
    }
  }
  net::awaitable<bool> hello() {
    const auto r = co_await request("POST", "hello", "{}");
    if (r.status == 200) tab_ = json::parse(r.body).at("tab");
    co_return r.status == 200;
  }
  // The next command, or null when there is none.
  net::awaitable<json> next() {
    const std::string name = fmt::format("next?tab={}&seen={}", tab_, seen_);
    const auto r = co_await request("GET", name);
    if (r.status != 200) co_return json(r.status);
    json command = json::parse(r.body);
    seen_ = command.value("seq", std::uint64_t{0});
    co_return command;
  }
  net::awaitable<int> answer(json fields) {
    fields["tab"] = tab_;
    const auto r = co_await request("POST", "answer", fields.dump());
    co_return r.status;
  }
  net::awaitable<int> marks(std::uint64_t seq, int i, json all) {
    const std::string name = fmt::format("marks?tab={}&seq={}&i={}", tab_, seq, i);
    json body = json::object();
    body["marks"] = std::move(all);
    const auto r = co_await request("POST", name, body.dump());
    co_return r.status;
  }
  net::awaitable<int> recording(std::uint64_t seq, int rate, std::string bytes) {
    const std::string name = fmt::format("recording?tab={}&seq={}&rate={}", tab_, seq, rate);
    const auto r = co_await request("POST", name, std::move(bytes));
    co_return r.status;
  }
  net::awaitable<int> frame(std::uint64_t seq, int i, int w, int h, std::string bytes,
                            std::string more = {}) {
    const std::string name =
        fmt::format("frame?tab={}&seq={}&i={}&w={}&h={}&t={}.5{}", tab_, seq, i, w, h, 10 * i, more);
    const auto r = co_await request("POST", name, std::move(bytes));
    co_return r.status;
  }

 private:
  FakePhone& phone_;
  std::string token_;
  std::uint16_t port_;
  std::shared_ptr<Wire> wire_;
  std::uint64_t tab_ = 0, seen_ = 0;
};

class PageTest : public testing::Test {
 protected:
  using Play = std::function<net::awaitable<void>(std::shared_ptr<Script>)>;
  PageTest() {
    phone.on_open = [this](std::uint16_t port, std::string token) {
      tokens.push_back(token);
      auto script = std::make_shared<Script>(phone, token, port);
      net::co_spawn(io, begin(script), net::detached);
    };
  }
  net::awaitable<void> begin(std::shared_ptr<Script> script) {
    const bool ok = co_await script->hello();
    if (ok && play) co_await play(script);
  }
  void open() { ASSERT_TRUE(run(io, page->open())); }

  net::io_context io;
  FakePhone phone{io};
  std::unique_ptr<checks::PagePort> page = make_page(phone, patient());
  Play play;
  std::vector<std::string> tokens;
};
}  // namespace hb::page::test
