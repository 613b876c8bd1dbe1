// What the page's server says to requests of any shape.
#include <fmt/format.h>

#include "tests/page/fakes.hpp"

namespace hb::page::test {
namespace {
PageOptions deadlines(net::milliseconds request) {
  PageOptions o;
  o.hello = 10s, o.request_head = request, o.request_body = request, o.idle = 10s, o.poll = 40ms;
  return o;
}

struct Row {
  const char* name;
  std::string request;  // {T} is the token, {H} the right Host line
  std::string status;   // of each reply, in order
  bool torn = false;    // byte by byte
  bool stays_open = true;
};

std::string filled(std::string text, const std::string& token, const std::string& address) {
  for (const auto& [key, value] : {std::pair<std::string, std::string>{"{T}", token},
                                   {"{A}", address},
                                   {"{H}", "Host: " + address + "\r\n"}})
    for (auto at = text.find(key); at != std::string::npos; at = text.find(key))
      text.replace(at, key.size(), value);
  return text;
}
std::string statuses(const std::string& replies) {
  std::string all;
  for (auto at = replies.find("HTTP/1.1 "); at != std::string::npos; at = replies.find("HTTP/1.1 ", at + 1))
    all += (all.empty() ? "" : " ") + replies.substr(at + 9, 3);
  return all;
}

class Http : public testing::TestWithParam<Row> {};

TEST_P(Http, IsAnsweredWithinItsBounds) {
  const auto& row = GetParam();
  net::io_context io;
  FakePhone phone(io);
  std::shared_ptr<Wire> wire;
  phone.on_open = [&](std::uint16_t, const std::string& token) {
    wire = phone.link_->connect();
    const auto text = filled(row.request, token, phone.address(46080));
    if (row.torn)
      for (const char c : text) wire->send(std::string_view(&c, 1));
    else
      wire->send(text);
  };
  const auto page = make_page(phone, deadlines(row.status == "408" ? 60ms : 8000ms));
  net::co_spawn(io, page->open(), net::detached);
  const auto wanted = std::count(row.status.begin(), row.status.end(), ' ') + 1;
  ASSERT_TRUE(run_until(io, [&] {
    return wire &&
           (wire->harness_closed ||
            std::count(wire->from_harness.begin(), wire->from_harness.end(), '\n') > 0) &&
           static_cast<long>(statuses(wire->from_harness).size()) >= 4 * wanted - 1;
  })) << wire->from_harness;
  EXPECT_EQ(statuses(wire->from_harness), row.status);
  if (row.stays_open) {
    EXPECT_FALSE(wire->harness_closed);
  } else {
    EXPECT_TRUE(run_until(
        io, [&] { return wire->harness_closed; }, 5s));
  }
}

const std::string kLong(9000, 'a');
INSTANTIATE_TEST_SUITE_P(
    Page, Http,
    testing::Values(
        Row{"the_page", "GET /{T}/ HTTP/1.1\r\n{H}\r\n", "200"},
        Row{"torn_into_bytes", "GET /{T}/page.js HTTP/1.1\r\n{H}\r\n", "200", true},
        Row{"two_in_one_piece", "GET /{T}/ HTTP/1.1\r\n{H}\r\nGET /{T}/page.css HTTP/1.1\r\n{H}\r\n",
            "200 200"},
        Row{"a_body_torn_into_bytes",
            "POST /{T}/hello HTTP/1.1\r\n{H}Content-Length: 2\r\n\r\n{}GET /{T}/ HTTP/1.1\r\n{H}\r\n",
            "200 200", true},
        Row{"close_asked_for", "GET /{T}/ HTTP/1.1\r\n{H}Connection: close\r\n\r\n", "200", false, false},
        Row{"no_token", "GET / HTTP/1.1\r\n{H}\r\n", "404", false, false},
        Row{"wrong_token", "GET /00112233445566778899aabbccddeeff/ HTTP/1.1\r\n{H}\r\n", "404", false, false},
        Row{"token_cut_short", "GET /0011/ HTTP/1.1\r\n{H}\r\n", "404", false, false},
        Row{"unknown_file", "GET /{T}/favicon.ico HTTP/1.1\r\n{H}\r\n", "404", false, false},
        Row{"path_upwards", "GET /{T}/../page.js HTTP/1.1\r\n{H}\r\n", "404", false, false},
        Row{"foreign_host_name", "GET /{T}/ HTTP/1.1\r\nHost: a.example:46080\r\n\r\n", "404", false, false},
        Row{"the_loopback_by_number", "GET /{T}/ HTTP/1.1\r\nHost: 127.0.0.1:46080\r\n\r\n", "404", false,
            false},
        Row{"localhost_itself", "GET /{T}/ HTTP/1.1\r\nHost: localhost:46080\r\n\r\n", "404", false, false},
        Row{"another_runs_name", "GET /{T}/ HTTP/1.1\r\nHost: h0123.localhost:46080\r\n\r\n", "404", false,
            false},
        Row{"a_name_above_this_runs", "GET /{T}/ HTTP/1.1\r\nHost: a.{A}\r\n\r\n", "404", false, false},
        Row{"foreign_origin",
            "POST /{T}/hello HTTP/1.1\r\n{H}Origin: http://a.example\r\nContent-Length: 2\r\n\r\n{}", "403",
            false, false},
        Row{"bad_method", "DELETE /{T}/ HTTP/1.1\r\n{H}\r\n", "405", false, false},
        Row{"get_where_post_belongs", "GET /{T}/hello HTTP/1.1\r\n{H}\r\n", "405", false, false},
        Row{"post_where_get_belongs", "POST /{T}/ HTTP/1.1\r\n{H}Content-Length: 0\r\n\r\n", "405", false,
            false},
        Row{"no_http_at_all", "\x16\x03\x01\x02\x00\x01\xff\xff\r\n\r\n", "400", false, false},
        Row{"head_too_long", "GET /{T}/ HTTP/1.1\r\n{H}X: " + kLong + "\r\n\r\n", "431", false, false},
        Row{"head_too_long_and_endless", "GET /" + kLong, "431", false, false},
        Row{"body_too_long", "POST /{T}/hello HTTP/1.1\r\n{H}Content-Length: 4000\r\n\r\n", "413", false,
            false},
        Row{"body_beyond_memory", "POST /{T}/hello HTTP/1.1\r\n{H}Content-Length: 99999999999\r\n\r\n", "413",
            false, false},
        Row{"body_of_unknown_length", "POST /{T}/hello HTTP/1.1\r\n{H}Transfer-Encoding: chunked\r\n\r\n",
            "411", false, false},
        Row{"frame_nobody_asked_for",
            "POST /{T}/frame?tab=0&seq=1&i=0&w=64&h=48 HTTP/1.1\r\n{H}Content-Length: 9216\r\n\r\n", "409",
            false, false},
        Row{"query_is_no_number", "GET /{T}/next?tab=x HTTP/1.1\r\n{H}\r\n", "404", false, false},
        Row{"head_never_ends", "GET /{T}/ HTTP/1.1\r\nHost: 127", "408", false, false},
        Row{"body_never_comes", "POST /{T}/hello HTTP/1.1\r\n{H}Content-Length: 2\r\n\r\n{", "408", false,
            false},
        Row{"poll_of_no_tab", "GET /{T}/next?tab=9&seen=0 HTTP/1.1\r\n{H}\r\n", "410"}),
    [](const auto& i) { return i.param.name; });

TEST(Http, SlowBytesDoNotRenewTheDeadlineOfAHead) {
  net::io_context io;
  FakePhone phone(io);
  std::shared_ptr<Wire> wire;
  phone.on_open = [&](std::uint16_t, const std::string&) { wire = phone.link_->connect(); };
  const auto page = make_page(phone, deadlines(60ms));
  net::co_spawn(io, page->open(), net::detached);
  ASSERT_TRUE(run_until(io, [&] { return wire != nullptr; }));
  net::co_spawn(
      io,
      [](std::shared_ptr<Wire> w) -> net::awaitable<void> {
        for (int i = 0; i < 500 && !w->harness_closed; ++i) {
          w->send("G");
          static_cast<void>(co_await net::pause(10ms));
        }
      }(wire),
      net::detached);
  const auto start = std::chrono::steady_clock::now();
  EXPECT_TRUE(run_until(io, [&] { return wire->harness_closed; }));
  EXPECT_LT(std::chrono::steady_clock::now() - start, 3s);
}

TEST(Http, EveryReplyCarriesTheSecurityHeaders) {
  net::io_context io;
  FakePhone phone(io);
  std::shared_ptr<Wire> good, bad;
  phone.on_open = [&](std::uint16_t, const std::string& token) {
    good = phone.link_->connect(), bad = phone.link_->connect();
    good->send(filled("GET /{T}/ HTTP/1.1\r\n{H}\r\n", token, phone.address(46080)));
    bad->send(filled("GET /x HTTP/1.1\r\n{H}\r\n", token, phone.address(46080)));
  };
  const auto page = make_page(phone, deadlines(8s));
  net::co_spawn(io, page->open(), net::detached);
  ASSERT_TRUE(
      run_until(io, [&] { return good && !good->from_harness.empty() && !bad->from_harness.empty(); }));
  for (const auto& wire : {good, bad})
    for (const char* header : {"Cache-Control: no-store", "default-src 'none'", "camera=(self)", "nosniff"})
      EXPECT_NE(wire->from_harness.find(header), std::string::npos) << header;
}

TEST(Http, AtMostSixteenConnectionsAreServed) {
  net::io_context io;
  FakePhone phone(io);
  std::vector<std::shared_ptr<Wire>> wires;
  phone.on_open = [&](std::uint16_t, const std::string&) {
    for (int i = 0; i < 20; ++i) wires.push_back(phone.link_->connect());
  };
  const auto page = make_page(phone, deadlines(8s));
  net::co_spawn(io, page->open(), net::detached);
  const auto refused = [&] {
    return std::count_if(wires.begin(), wires.end(), [](const auto& w) { return w->harness_closed; });
  };
  EXPECT_TRUE(run_until(io, [&] { return refused() == 4; }));
}
}  // namespace
}  // namespace hb::page::test
