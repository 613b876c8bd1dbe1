#include "root.hpp"

#include <unistd.h>

#include <algorithm>
#include <cerrno>

#include "harness/net/clock.hpp"
#include "reports/record/utc.hpp"
#include "revocations.hpp"

namespace hb::cli {
namespace {
using sign::Certificate;
constexpr std::int64_t kDay = 86400, kBridgeDays = 20 * 365;

Result<Issued> keep(const Home& home, const Certificate& c, std::string jwt) {
  Issued out{std::move(jwt), c.serial, {}, c.from_s, c.until_s};
  out.file = home.certificates() / (c.key.thumbprint() + "-" + c.serial + ".jwt");
  if (auto w = write_file(out.file, out.jwt + "\n"); !w) return w.error();
  return out;
}

Result<Issued> issue(const Home& home, const sign::SigningKey& root, const Certificate& c) {
  auto jwt = sign::certify(c, root);
  if (!jwt) return std::move(jwt).error();
  const auto made = sign::read_certificate(*jwt, root.public_key());
  if (!made) return made.error();
  return keep(home, *made, std::move(*jwt));
}

/// Old and new root confirm each other, each for what it issued in its time.
Result<void> bridge(const Home& home, const sign::SigningKey& old, const sign::SigningKey& next,
                    std::int64_t now) {
  Certificate to_next{Certificate::Kind::root, next.public_key(), {}, "next root", {}, now, now,
                      now + kBridgeDays * kDay};
  if (auto r = issue(home, old, to_next); !r) return r.error();
  Certificate to_old{Certificate::Kind::root, old.public_key(), {}, "earlier root", {}, now, 0, now + 1};
  if (auto r = issue(home, next, to_old); !r) return r.error();
  return {};
}
}  // namespace

fs::path root_key_file_of(const Home& home, const std::string& root_id) {
  for (const auto& file : {home.root_key(), home.retired() / (root_id + ".jwk")})
    if (const auto id = key_id_of(file); id && *id == root_id) return file;
  return {};
}

Result<Issued> issue_bench_certificate(const Home& home, const sign::SigningKey& root,
                                       const sign::PublicKey& bench, const std::string& label,
                                       std::int64_t from_s, int days) {
  return issue(
      home, root,
      {Certificate::Kind::bench, bench, {}, label, {}, net::utc_now_s(), from_s, from_s + days * kDay});
}

Result<fs::path> retire(const Home& home, const std::string& key_id, const fs::path& file,
                        const fs::path& next) {
  const auto kept = home.retired() / (key_id + ".jwk");
  const auto failed = [&] {
    return Error{ErrorCode::io, "the old key cannot be put aside", kept.string(), "Check the folder."};
  };
  std::error_code ec;
  if (::link(file.c_str(), kept.c_str()) != 0 && errno != EEXIST) {
    fs::copy_file(file, kept, ec);  // another file system
    if (ec) return failed();
    fs::permissions(kept, fs::perms::owner_read | fs::perms::owner_write, ec);
  }
  fs::rename(next, file, ec);
  if (ec) return failed();
  return kept;
}

Result<ChangedRoot> change_root(const Home& home, const sign::SigningKey& old, const fs::path& file,
                                bool protect, std::optional<std::int64_t> stolen_since) {
  const auto v = gather_trust(home, {});
  if (!v) return v.error();
  const auto next = sign::SigningKey::make();
  const fs::path next_file = file.string() + ".next";
  std::error_code ec;
  fs::remove(next_file, ec);
  if (auto r = save_key(home, next, next_file, protect); !r) return r.error();
  const auto now = net::utc_now_s();
  ChangedRoot out{next.key_id(), home.roots() / (next.key_id() + ".jwk"), {}, 0};

  for (const auto& t : v->certificates) {
    auto c = sign::read_certificate(t, old.public_key());
    if (!c || c->kind != Certificate::Kind::bench) continue;
    c->issuer.clear(), c->serial.clear(), c->issued_s = now;
    if (auto r = issue(home, next, *c); !r) return r.error();
    ++out.certified;
  }
  // The old root's own list first: what it holds must be known before it is taken over.
  const auto until_now = write_merged_list(home, old, file, {});
  if (!until_now) return until_now.error();
  Revoked revoked = until_now->revoked;
  if (stolen_since) revoked.push_back({old.key_id(), *stolen_since, "stolen"});
  if (auto r = write_merged_list(home, next, file, revoked); !r) return r.error();
  if (!stolen_since)
    if (auto r = bridge(home, old, next, now); !r) return r.error();

  if (auto w = write_file(out.public_file, next.public_key().jwk()); !w) return w.error();
  auto kept = retire(home, old.key_id(), file, next_file);
  if (!kept) return kept.error();
  out.retired = *kept;
  return out;
}

namespace {
Result<std::string> accept_token(const Home& home, const sign::Vouching& v, const std::string& token,
                                 const std::string& where) {
  for (const auto& root : v.roots) {
    if (const auto c = sign::read_certificate(token, root)) {
      if (auto k = keep(home, *c, token); !k) return k.error();
      return "certificate of '" + c->label + "' until " + record::utc_text(c->until_s);
    }
    if (sign::read_revocation_list(token, root)) return take_list(home, root, token, where);
  }
  return Error{ErrorCode::unknown_key, "no root that is known here signed this", where,
               "Accept the root's public key first, from the shop itself."};
}
}  // namespace

Result<std::vector<std::string>> accept_file(const Home& home, const fs::path& file) {
  const auto v = gather_trust(home, {});
  if (!v) return v.error();
  const auto tokens = read_tokens(file);
  if (!tokens) return tokens.error();
  std::vector<std::string> taken;
  if (const auto root = read_public_key(file)) {
    if (auto w = write_file(home.roots() / (root->thumbprint() + ".jwk"), root->jwk()); !w) return w.error();
    taken.push_back("root " + root->thumbprint());
    const auto list = read_list(list_of(home, root->thumbprint()), *root);
    if (list && list->state == ListFile::State::missing)
      taken.push_back(
          "its revocation list is not here yet: accept it too (keys/revoked, on the root's computer)");
    return taken;
  }
  if (tokens->empty())
    return Error{ErrorCode::bad_format, "the file holds nothing", file.string(), "Get it again."};
  for (const auto& t : *tokens) {
    auto what = accept_token(home, *v, t, file.string());
    if (!what) return what.error();
    taken.push_back(std::move(*what));
  }
  return taken;
}
}  // namespace hb::cli
