/// HTTP/1.1 on one stream of the link: reads requests with Boost.Beast's parser under bounds and deadlines,
/// writes replies with the page's security headers. Knows no paths: a Site says what is allowed.
/// Sources: RFC 9110, RFC 9112; header names and policies by W3C CSP 3, Permissions Policy, Fetch Metadata.
/// Threads: the link's strand.
#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "harness/link/link.hpp"
#include "harness/page/page.hpp"

namespace hb::page {
inline constexpr std::uint32_t kHeadLimit = 8192;
inline constexpr std::uint64_t kBodyLimit = 16u << 20;

struct Head {
  bool post = false;
  std::string target;  ///< path and query as sent
  std::string host, origin;
};
struct Reply {
  int status = 404;
  std::string_view type = "text/plain; charset=utf-8";
  Bytes body;
};
/// A reply without a body.
[[nodiscard]] inline Reply bare(int status) {
  Reply r;
  r.status = status;
  return r;
}

/// Whether a request may go on: a refusal's status, or 0 and how long its body may be.
struct Admission {
  int refusal = 404;
  std::uint64_t body_limit = 0;
};

/// Overwrites, then empties.
void wipe(Bytes& bytes) noexcept;

class Site {
 public:
  virtual ~Site() = default;
  /// Called when the head has come, before any body is read.
  [[nodiscard]] virtual Admission admit(const Head& head) = 0;
  [[nodiscard]] virtual net::awaitable<Reply> answer(Head head, Bytes body) = 0;
  virtual void seen() = 0;  ///< some bytes of an allowed request came
  [[nodiscard]] virtual bool over() const = 0;
};

/// Serves requests on `stream`, one after the other, until either side ends. Malformed input gets a 4xx and
/// the end; a head or body slower than its deadline gets 408 and the end.
[[nodiscard]] net::awaitable<void> serve(std::shared_ptr<Site> site, std::unique_ptr<link::Stream> stream,
                                         PageOptions options);
}  // namespace hb::page
