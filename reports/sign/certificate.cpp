#include "reports/sign/certificate.hpp"

#include <sodium.h>

#include <algorithm>
#include <tuple>

#include "harness/base/text.hpp"
#include "reports/record/utc.hpp"

namespace hb::sign {
namespace {
using nlohmann::json;

constexpr std::string_view kBenchType = "handback-bench+jwt", kRootType = "handback-root+jwt",
                           kListType = "handback-revoked+jwt";
constexpr std::int64_t kLastSecond = 253402300799;  ///< 9999-12-31T23:59:59Z
constexpr std::size_t kMaxLabel = 120, kMaxRevoked = 10000, kMaxCarried = 64;
constexpr int kMaxSteps = 8;

std::string_view type_of(Certificate::Kind k) {
  return k == Certificate::Kind::bench ? kBenchType : kRootType;
}

bool is_time(std::int64_t s) { return s >= 0 && s <= kLastSecond; }

bool good_label(std::string_view text) { return text.size() <= kMaxLabel && all_seen(text); }

bool good_terms(const Certificate& c) {
  return is_time(c.issued_s) && is_time(c.from_s) && is_time(c.until_s) && c.from_s < c.until_s &&
         good_label(c.label);
}

Error not_right(const char* what) {
  return Error{ErrorCode::altered, what, "certificate", "Get it again from the shop's root."};
}

/// Takes members out of an object and remembers whether each was there in its type.
class Claims {
 public:
  explicit Claims(json j) : j_(std::move(j)), good_(j_.is_object()) {}
  std::string text(const char* name) {
    const auto v = take(name);
    good_ = good_ && v.is_string();
    return good_ ? v.get<std::string>() : std::string();
  }
  std::int64_t time(const char* name) {
    const auto v = take(name);
    good_ = good_ && v.is_number_integer() && is_time(v.get<std::int64_t>());
    return good_ ? v.get<std::int64_t>() : 0;
  }
  json take(const char* name) {
    if (!good_ || !j_.contains(name)) return good_ = false, json();
    json v = std::move(j_[name]);
    j_.erase(name);
    return v;
  }
  /// All there, nothing besides.
  [[nodiscard]] bool whole() const { return good_ && j_.empty(); }

 private:
  json j_;
  bool good_;
};

/// The signed content, which must be in its one canonical form.
Result<json> content(std::string_view jwt, const PublicKey& root, std::string_view type) {
  const auto payload = verify_jws_with(jwt, root, type);
  if (!payload) return payload.error();
  auto j = record::parse_strict(*payload);
  if (!j) return not_right("what was signed is no JSON");
  const auto text = record::canonical(*j);
  if (!text || *text != *payload) return not_right("what was signed is not in canonical form");
  return j;
}

bool is_reason(std::string_view r) { return r == "stolen" || r == "lost" || r == "retired"; }
}  // namespace

Result<std::string> certify(Certificate c, const SigningKey& root) {
  if (!good_terms(c))
    return Error{ErrorCode::invalid_argument, "a certificate needs a start before its end and a plain name",
                 "certificate", "Give other dates or another name."};
  if (c.serial.empty()) {
    Bytes random(16);
    randombytes_buf(random.data(), random.size());
    c.serial = base64url(random);
  }
  auto text = record::canonical({{"cnf", {{"jwk", json::parse(c.key.jwk())}}},
                                 {"exp", c.until_s},
                                 {"iat", c.issued_s},
                                 {"iss", root.key_id()},
                                 {"jti", c.serial},
                                 {"label", c.label},
                                 {"nbf", c.from_s},
                                 {"sub", c.key.thumbprint()}});
  if (!text) return std::move(text).error();
  return make_jws(*text, root, type_of(c.kind));
}

Result<Certificate> read_certificate(std::string_view jwt, const PublicKey& root) {
  Certificate c;
  auto j = content(jwt, root, kBenchType);
  if (!j && j.error().code == ErrorCode::refused) {
    c.kind = Certificate::Kind::root;
    j = content(jwt, root, kRootType);
  }
  if (!j) return std::move(j).error();
  Claims claims(std::move(*j));
  Claims confirmed(claims.take("cnf"));
  const auto key = PublicKey::from_jwk(confirmed.take("jwk").dump());
  c.until_s = claims.time("exp");
  c.issued_s = claims.time("iat");
  c.issuer = claims.text("iss");
  c.serial = claims.text("jti");
  c.label = claims.text("label");
  c.from_s = claims.time("nbf");
  const auto subject = claims.text("sub");
  if (!claims.whole() || !confirmed.whole() || !key || !good_terms(c))
    return not_right("what was signed is no certificate");
  if (c.issuer != root.thumbprint() || subject != key->thumbprint())
    return not_right("the certificate names another key than it holds");
  c.key = *key;
  return c;
}

Result<std::string> issuer_of(std::string_view jwt) {
  const auto j = peek(jwt);
  if (!j) return j.error();
  if (!j->is_object() || !j->contains("iss") || !(*j)["iss"].is_string())
    return not_right("this names no issuer");
  return (*j)["iss"].get<std::string>();
}

std::vector<RevocationList::Entry> merge_revoked(std::vector<RevocationList::Entry> all) {
  std::stable_sort(all.begin(), all.end(), [](const auto& a, const auto& b) {
    return std::tie(a.kid, a.since_s) < std::tie(b.kid, b.since_s);
  });
  const auto same_key = [](const auto& a, const auto& b) { return a.kid == b.kid; };
  all.erase(std::unique(all.begin(), all.end(), same_key), all.end());
  return all;
}

std::vector<std::string> lost_revocations(const std::vector<RevocationList::Entry>& known,
                                          const std::vector<RevocationList::Entry>& list) {
  const auto kept = merge_revoked(list);
  std::vector<std::string> lost;
  for (const auto& e : merge_revoked(known)) {
    const auto it = std::find_if(kept.begin(), kept.end(), [&](const auto& k) { return k.kid == e.kid; });
    if (it == kept.end() || it->since_s > e.since_s) lost.push_back(e.kid);
  }
  return lost;
}

Result<std::string> make_revocation_list(RevocationList list, const SigningKey& root) {
  auto revoked = json::array();
  for (const auto& e : list.revoked) {
    if (!is_reason(e.reason) || !is_time(e.since_s))
      return Error{ErrorCode::invalid_argument, "a key is revoked as stolen, lost or retired, from a time on",
                   "revocation", ""};
    revoked.push_back({{"kid", e.kid}, {"reason", e.reason}, {"since", e.since_s}});
  }
  auto text = record::canonical({{"iat", list.issued_s},
                                 {"iss", root.key_id()},
                                 {"number", list.number},
                                 {"revoked", std::move(revoked)}});
  if (!text) return std::move(text).error();
  return make_jws(*text, root, kListType);
}

Result<RevocationList> read_revocation_list(std::string_view jwt, const PublicKey& root) {
  auto j = content(jwt, root, kListType);
  if (!j) return std::move(j).error();
  const Error bad = not_right("what was signed is no revocation list");
  Claims claims(std::move(*j));
  RevocationList list;
  list.issued_s = claims.time("iat");
  list.issuer = claims.text("iss");
  list.number = claims.time("number");
  const auto revoked = claims.take("revoked");
  if (!claims.whole() || !revoked.is_array() || revoked.size() > kMaxRevoked ||
      list.issuer != root.thumbprint())
    return bad;
  for (const auto& r : revoked) {
    Claims e(r);
    RevocationList::Entry entry{e.text("kid"), e.time("since"), e.text("reason")};
    if (!e.whole() || !is_reason(entry.reason)) return bad;
    list.revoked.push_back(std::move(entry));
  }
  return list;
}

namespace {
/// Roots that are believed, and until when what they issue counts.
struct Believed {
  PublicKey key;
  std::int64_t from_s = 0, until_s = kLastSecond + 1;  ///< of what it issues
  std::optional<std::int64_t> revoked_s{};
  [[nodiscard]] bool may_issue_at(std::int64_t s) const {
    return s >= from_s && s < until_s && (!revoked_s || s < *revoked_s);
  }
};

std::optional<std::int64_t> earliest(std::optional<std::int64_t> a, std::optional<std::int64_t> b) {
  if (!a || !b) return a ? a : b;
  return std::min(*a, *b);
}

struct Gathered {
  std::vector<Believed> roots;
  std::vector<Certificate> benches;
  std::vector<RevocationList::Entry> revoked;

  [[nodiscard]] bool has(const PublicKey& key) const {
    return std::any_of(roots.begin(), roots.end(), [&](const Believed& b) { return b.key == key; });
  }
  [[nodiscard]] std::optional<std::int64_t> revoked_since(std::string_view kid) const {
    std::optional<std::int64_t> since;
    for (const auto& r : revoked)
      if (r.kid == kid) since = earliest(since, r.since_s);
    return since;
  }
};

/// What `root` signed, of the certificates given; the roots that it confirms are added to `next`.
void take_from(const Believed& root, const Vouching& by, Gathered& g, std::vector<Believed>& next) {
  const auto id = root.key.thumbprint();
  for (const auto& jwt : by.certificates) {
    if (issuer_of(jwt).value_or("") != id) continue;
    const auto c = read_certificate(jwt, root.key);
    if (!c || !root.may_issue_at(c->issued_s)) continue;
    if (c->kind == Certificate::Kind::bench)
      g.benches.push_back(*c);
    else if (!g.has(c->key))
      next.push_back({c->key, c->from_s, c->until_s});
  }
}

void take_lists(const std::vector<Believed>& roots, const Vouching& by, Gathered& g) {
  for (const auto& root : roots)
    for (const auto& jwt : by.lists)
      if (const auto list = read_revocation_list(jwt, root.key))
        g.revoked.insert(g.revoked.end(), list->revoked.begin(), list->revoked.end());
}
}  // namespace

void add_vouched(KeyRing& ring, const Vouching& by) {
  Gathered g;
  std::vector<Believed> now;
  for (const auto& r : by.roots) now.push_back({r});
  for (int step = 0; step < kMaxSteps && !now.empty(); ++step) {
    take_lists(now, by, g);
    for (auto& r : now) r.revoked_s = earliest(r.revoked_s, g.revoked_since(r.key.thumbprint()));
    std::vector<Believed> next;
    for (const auto& r : now) {
      g.roots.push_back(r);
      take_from(r, by, g, next);
    }
    now = std::move(next);
  }
  for (const auto& c : g.benches) {
    KeyRing::Entry e{c.key, c.label, {}, true};
    e.spans = {{record::utc_text(c.from_s), record::utc_text(c.until_s)}};
    e.root_id = c.issuer;
    ring.add(std::move(e));
  }
  for (const auto& r : g.revoked) ring.revoke(r.kid, record::utc_text(r.since_s));
}

std::string certificate_slot(const std::vector<std::string>& certificates) {
  std::string out;
  for (const auto& c : certificates) out += (out.empty() ? std::string(kCertificateMarker) : ",") + c;
  return out.empty() ? out : out + "]";
}

std::vector<std::string> certificates_in(std::string_view file) {
  const auto at = file.find(kCertificateMarker);
  if (at == std::string_view::npos || file.find(kCertificateMarker, at + 1) != std::string_view::npos)
    return {};
  const auto from = at + kCertificateMarker.size();
  const auto end = file.find(']', from);
  if (end == std::string_view::npos) return {};
  std::vector<std::string> out;
  for (const auto part : split(file.substr(from, end - from), ',')) {
    if (out.size() == kMaxCarried) return {};
    out.emplace_back(part);
  }
  return out;
}
}  // namespace hb::sign
