#include <algorithm>

#include "documents.hpp"
#include "harness/base/text.hpp"
#include "harness/net/clock.hpp"
#include "keys.hpp"
#include "reports/record/utc.hpp"

namespace hb::cli {
namespace {
constexpr std::size_t kMaxTokens = 4u << 20;

Result<std::vector<fs::path>> files_in(const fs::path& folder, std::string_view extension) {
  std::vector<fs::path> out;
  std::error_code ec;
  if (!fs::is_directory(folder, ec)) return out;
  for (fs::directory_iterator it(folder, ec), end; !ec && it != end; it.increment(ec))
    if (it->path().extension() == extension) out.push_back(it->path());
  if (ec) return Error{ErrorCode::io, "the folder cannot be read", folder.string(), "Check its permissions."};
  std::sort(out.begin(), out.end());
  return out;
}

Result<void> add_tokens(std::vector<std::string>& into, const std::vector<fs::path>& files) {
  for (const auto& f : files) {
    auto tokens = read_tokens(f);
    if (!tokens) return tokens.error();
    into.insert(into.end(), tokens->begin(), tokens->end());
  }
  return {};
}

void take_tokens(std::vector<std::string>& into, const fs::path& file) {
  if (const auto tokens = read_tokens(file)) into.insert(into.end(), tokens->begin(), tokens->end());
}

/// A file that was named must be good: a silent gap would look like an unknown key.
Result<void> certificates_must_hold(const std::vector<std::string>& files, const sign::Vouching& v) {
  for (const auto& f : files) {
    const auto tokens = read_tokens(f);
    if (!tokens) return tokens.error();
    for (const auto& t : *tokens) {
      const auto issuer = sign::issuer_of(t);
      if (!issuer) return Error{ErrorCode::bad_format, "this is no certificate", f, "Get it from the shop."};
      for (const auto& root : v.roots)
        if (root.thumbprint() == *issuer && !sign::read_certificate(t, root))
          return Error{ErrorCode::altered, "the signature of this certificate does not hold", f,
                       "Get it again from the shop."};
    }
  }
  return {};
}
}  // namespace

Result<sign::PublicKey> read_public_key(const fs::path& file) {
  auto text = read_file(file, 8192);
  if (!text) return text.error();
  auto key = sign::PublicKey::from_jwk(*text);
  if (!key)
    return Error{key.error().code, key.error().what, file.string(),
                 "Give a public key as a JWK (kty OKP, crv Ed25519)."};
  return key;
}

Result<std::vector<std::string>> read_tokens(const fs::path& file) {
  auto text = read_file(file, kMaxTokens);
  if (!text) return text.error();
  for (auto& c : *text)
    if (c == '\r' || c == '\t' || c == ' ') c = '\n';
  std::vector<std::string> out;
  for (const auto token : split(*text, '\n'))
    if (!token.empty()) out.emplace_back(token);
  return out;
}

Result<sign::Vouching> gather_trust(const Home& home, const TrustFiles& named) {
  sign::Vouching v;
  const auto root_files = files_in(home.roots(), ".jwk");
  const auto certificate_files = files_in(home.certificates(), ".jwt");
  const auto list_files = files_in(home.revocations(), ".jwt");
  for (const auto* r : {&root_files, &certificate_files, &list_files})
    if (!*r) return r->error();
  auto roots = *root_files;
  roots.insert(roots.end(), named.roots.begin(), named.roots.end());
  for (const auto& f : roots) {
    auto key = read_public_key(f);
    if (!key) return key.error();
    v.roots.push_back(*key);
  }
  if (auto r = add_tokens(v.certificates, *certificate_files); !r) return r.error();
  if (auto r = add_tokens(v.certificates, {named.certificates.begin(), named.certificates.end()}); !r)
    return r.error();
  // A list that cannot be read is no error here: list_troubles tells, and nothing is called authentic.
  for (const auto& f : *list_files) take_tokens(v.lists, f);
  for (const auto& f : named.lists) take_tokens(v.lists, f);
  if (auto r = certificates_must_hold(named.certificates, v); !r) return r.error();
  return v;
}

Result<sign::KeyRing> ring_for(const Home& home, const TrustFiles& named, std::string_view document) {
  auto ring = trusted_keys(home, named.keys);
  if (!ring) return ring;
  auto v = gather_trust(home, named);
  if (!v) return v.error();
  for (auto& c : sign::certificates_in(document)) v->certificates.push_back(std::move(c));
  sign::add_vouched(*ring, *v);
  return ring;
}

Result<std::vector<std::string>> certificates_of(const Home& home, const std::vector<std::string>& key_ids) {
  const auto v = gather_trust(home, {});
  if (!v) return v.error();
  std::vector<std::string> out;
  for (const auto& t : v->certificates)
    for (const auto& root : v->roots) {
      const auto c = sign::read_certificate(t, root);
      if (!c) continue;
      const bool wanted = c->kind == sign::Certificate::Kind::root ||
                          std::find(key_ids.begin(), key_ids.end(), c->key.thumbprint()) != key_ids.end();
      if (wanted && std::find(out.begin(), out.end(), t) == out.end()) out.push_back(t);
    }
  return out;
}

Result<Certified> certified(const Home& home, const std::string& key_id) {
  using State = Certified::State;
  constexpr std::int64_t soon_s = 14 * 86400;
  const auto v = gather_trust(home, {});
  if (!v) return v.error();
  if (v->roots.empty())
    return Certified{State::no_root, "", "no root: whoever checks a sheet needs this bench's own key"};
  std::int64_t until = 0;
  for (const auto& t : v->certificates)
    for (const auto& root : v->roots)
      if (const auto c = sign::read_certificate(t, root); c && c->key.thumbprint() == key_id)
        until = std::max(until, c->until_s);
  if (until == 0)
    return Certified{State::missing, "",
                     "MISSING: the root has not certified this key; see `bench root certify`"};
  const auto text = record::utc_text(until);
  const auto left_s = until - net::utc_now_s();
  if (left_s <= 0) return Certified{State::ended, text, "ENDED " + text + ": new runs are not vouched for"};
  return Certified{left_s < soon_s ? State::ends_soon : State::good, text, "until " + text};
}
}  // namespace hb::cli
