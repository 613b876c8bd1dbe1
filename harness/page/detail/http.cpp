#include "detail/http.hpp"

#include <fmt/format.h>
#include <sodium.h>

#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/vector_body.hpp>
#include <optional>

namespace hb::page {
namespace {
namespace http = boost::beast::http;
using Parser = http::request_parser<http::vector_body<std::uint8_t>>;
using TimePoint = std::chrono::steady_clock::time_point;

TimePoint now() { return std::chrono::steady_clock::now(); }
net::milliseconds until(TimePoint t) {
  return std::max(net::milliseconds(0), std::chrono::ceil<net::milliseconds>(t - now()));
}

constexpr std::string_view kSecurity =
    "Cache-Control: no-store\r\n"
    "Content-Security-Policy: default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'\r\n"
    "Permissions-Policy: camera=(self), screen-wake-lock=(self), microphone=(self), "
    "speaker-selection=(self), geolocation=()\r\n"
    "Referrer-Policy: no-referrer\r\n"
    "X-Content-Type-Options: nosniff\r\n"
    "Cross-Origin-Resource-Policy: same-origin\r\n"
    "Cross-Origin-Opener-Policy: same-origin\r\n";

std::string_view phrase(int status) {
  switch (status) {
    case 200:
      return "OK";
    case 204:
      return "No Content";
    case 400:
      return "Bad Request";
    case 403:
      return "Forbidden";
    case 405:
      return "Method Not Allowed";
    case 408:
      return "Request Timeout";
    case 409:
      return "Conflict";
    case 410:
      return "Gone";
    case 411:
      return "Length Required";
    case 413:
      return "Content Too Large";
    case 431:
      return "Request Header Fields Too Large";
    case 503:
      return "Service Unavailable";
    default:
      return "Not Found";
  }
}

Bytes encode(const Reply& r, bool last) {
  std::string head = fmt::format("HTTP/1.1 {} {}\r\n", r.status, phrase(r.status));
  head += kSecurity;
  if (r.status != 204)
    head += fmt::format("Content-Type: {}\r\nContent-Length: {}\r\n", r.type, r.body.size());
  if (r.status == 405) head += "Allow: GET, POST\r\n";
  head += last ? "Connection: close\r\n\r\n" : "Connection: keep-alive\r\n\r\n";
  Bytes out(head.begin(), head.end());
  out.insert(out.end(), r.body.begin(), r.body.end());
  return out;
}

int status_of(const boost::system::error_code& ec) {
  if (ec == http::error::header_limit || ec == http::error::buffer_overflow) return 431;
  if (ec == http::error::body_limit) return 413;
  return 400;
}

// However a request ends, the part of its body that is still here is overwritten.
struct Wiped {
  Parser& parser;
  ~Wiped() { wipe(parser.get().body()); }
};

// One connection: the bytes that came and were not used yet.
class Connection {
 public:
  Connection(std::shared_ptr<Site> site, std::unique_ptr<link::Stream> stream, PageOptions options)
      : site_(std::move(site)), stream_(std::move(stream)), options_(options) {}
  ~Connection() { wipe(rest_); }
  Connection(const Connection&) = delete;
  Connection& operator=(const Connection&) = delete;

  net::awaitable<void> run() {
    while (!site_->over()) {
      Bytes body;
      auto head = co_await request(body);
      if (!head) break;  // the other side ended, or its refusal is already sent
      const Reply reply = co_await site_->answer(*std::move(head), std::move(body));
      const auto sent = co_await stream_->write(encode(reply, close_after_), options_.request_body);
      if (!sent || close_after_) break;
    }
    stream_->close();
  }

 private:
  // More bytes behind rest_. False: ended or out of time (then `late_`).
  net::awaitable<bool> more(net::milliseconds limit) {
    late_ = limit.count() <= 0;
    if (late_) co_return false;
    auto chunk = co_await stream_->read(limit);
    if (!chunk) {
      late_ = chunk.error().code == ErrorCode::timed_out;
      co_return false;
    }
    if (chunk->empty()) co_return false;
    if (rest_.empty()) {
      rest_.swap(*chunk);
    } else {
      Bytes joined;
      joined.reserve(rest_.size() + chunk->size());
      joined.insert(joined.end(), rest_.begin(), rest_.end());
      joined.insert(joined.end(), chunk->begin(), chunk->end());
      wipe(rest_), rest_.swap(joined);
    }
    wipe(*chunk);
    co_return true;
  }

  // Gives the parser what there is; true when it wants more.
  bool put(Parser& parser, boost::system::error_code& ec) {
    if (rest_.empty()) return true;
    const std::size_t used = parser.put(net::asio::buffer(rest_), ec);
    const bool wants_more = ec == http::error::need_more;
    if (wants_more) ec = {};
    if (used == rest_.size()) {
      wipe(rest_);
    } else {
      std::copy(rest_.begin() + static_cast<std::ptrdiff_t>(used), rest_.end(), rest_.begin());
      sodium_memzero(rest_.data() + (rest_.size() - used), used);
      rest_.resize(rest_.size() - used);
    }
    return wants_more || rest_.empty();
  }

  net::awaitable<std::optional<Head>> refuse(int status) {
    Reply r;
    r.status = status;
    static_cast<void>(co_await stream_->write(encode(r, true), options_.request_head));
    co_return std::nullopt;
  }

  net::awaitable<std::optional<Head>> request(Bytes& body) {
    Parser parser;
    const Wiped wiped{parser};
    parser.header_limit(kHeadLimit);
    parser.body_limit(kBodyLimit);
    if (rest_.empty()) {
      const bool came = co_await more(options_.idle);
      if (!came) co_return std::nullopt;
    }
    boost::system::error_code ec;
    const auto head_by = now() + options_.request_head;
    while (!parser.is_header_done()) {
      const bool hungry = put(parser, ec);
      if (ec) co_return co_await refuse(status_of(ec));
      if (parser.is_header_done()) break;
      if (!hungry) continue;
      const bool came = co_await more(until(head_by));
      if (!came && late_) co_return co_await refuse(408);
      if (!came) co_return std::nullopt;
    }
    co_return co_await rest_of_request(parser, body);
  }

  net::awaitable<std::optional<Head>> rest_of_request(Parser& parser, Bytes& body) {
    const auto& message = parser.get();
    if (message.method() != http::verb::get && message.method() != http::verb::post)
      co_return co_await refuse(405);
    Head head;
    head.post = message.method() == http::verb::post;
    head.target = std::string(message.target());
    head.host = std::string(message[http::field::host]);
    head.origin = std::string(message[http::field::origin]);
    const Admission admission = site_->admit(head);
    if (admission.refusal != 0) co_return co_await refuse(admission.refusal);
    if (parser.chunked()) co_return co_await refuse(411);
    if (parser.content_length().value_or(0) > admission.body_limit) co_return co_await refuse(413);
    close_after_ = !parser.keep_alive();
    site_->seen();

    parser.eager(true);
    boost::system::error_code ec;
    const auto body_by = now() + options_.request_body;
    while (!parser.is_done()) {
      const bool hungry = put(parser, ec);
      if (ec) co_return co_await refuse(status_of(ec));
      if (parser.is_done()) break;
      if (!hungry) continue;
      const bool came = co_await more(until(body_by));
      if (!came && late_) co_return co_await refuse(408);
      if (!came) co_return std::nullopt;
      site_->seen();
    }
    body = std::move(parser.get().body());
    co_return head;
  }

  std::shared_ptr<Site> site_;
  std::unique_ptr<link::Stream> stream_;
  PageOptions options_;
  Bytes rest_;
  bool late_ = false, close_after_ = false;
};
}  // namespace

void wipe(Bytes& bytes) noexcept {
  if (!bytes.empty()) sodium_memzero(bytes.data(), bytes.size());
  bytes.clear();
}

net::awaitable<void> serve(std::shared_ptr<Site> site, std::unique_ptr<link::Stream> stream,
                           PageOptions options) {
  Connection connection(std::move(site), std::move(stream), options);
  co_await connection.run();
}
}  // namespace hb::page
