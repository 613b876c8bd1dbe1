/// The bench's folder: keys, ledger, journals, sheets, own profiles. Everything in it belongs to the shop.
///   bench.toml                shop, bench name, contact (for sheets)
///   keys/bench-sign.jwk       Ed25519 signing key, private, 0600; a JWK, or protected by a passphrase
///   keys/trusted/*.jwk        public keys that verify trusts
///   keys/root.jwk             the shop's root, private, only where keys are certified; may lie elsewhere
///   keys/roots/*.jwk          public keys of roots; keys/certificates/*.jwt and keys/revoked/*.jwt: theirs
///   keys/revoked/*.jwt.known, keys/revoked-ROOT.jwt  memory of a list, and the list beside keys/root.jwk
///   keys/retired/*.jwk        private keys that were changed for new ones
///   keys/debug-link.pem       RSA key that phones are asked to allow, 0600
///   keys/phone-tag.key        32 random bytes: HMAC key of the phone tags, 0600
///   ledger.sqlite, runs/RUN.jsonl, sheets/RUN/, profiles/*.toml
/// Threads: any; functions read and write files.
#pragma once

#include <filesystem>
#include <memory>
#include <string>

#include "harness/base/encoding.hpp"
#include "harness/base/gate.hpp"
#include "harness/base/result.hpp"

namespace hb::cli {
class KeyAccess;
namespace fs = std::filesystem;

struct BenchFacts {
  ShopText shop, name, contact;
};

class Home {
 public:
  explicit Home(fs::path root, std::shared_ptr<KeyAccess> keys = nullptr);
  /// --home, else HANDBACK_HOME, else XDG_DATA_HOME/handback, else ~/.local/share/handback.
  /// The ledger: --ledger, else HANDBACK_LEDGER, else ledger.sqlite there.
  [[nodiscard]] static Home choose(const std::string& option, std::shared_ptr<KeyAccess> keys = nullptr,
                                   const std::string& ledger_option = {});
  /// Makes the folders (0700). What others could read of the bench's own, they no longer can, which is said
  /// on standard error; private keys are left for their readers to refuse. io.
  [[nodiscard]] Result<void> prepare() const;
  [[nodiscard]] const fs::path& root() const { return root_; }
  /// A file or a connection string, as Ledger::open takes it. It may hold a password: never print it.
  [[nodiscard]] const std::string& ledger() const { return ledger_; }
  [[nodiscard]] fs::path signing_key() const { return root_ / "keys" / "bench-sign.jwk"; }
  [[nodiscard]] fs::path trusted() const { return root_ / "keys" / "trusted"; }
  [[nodiscard]] fs::path root_key() const { return root_ / "keys" / "root.jwk"; }
  [[nodiscard]] fs::path roots() const { return root_ / "keys" / "roots"; }
  [[nodiscard]] fs::path certificates() const { return root_ / "keys" / "certificates"; }
  [[nodiscard]] fs::path revocations() const { return root_ / "keys" / "revoked"; }
  [[nodiscard]] fs::path retired() const { return root_ / "keys" / "retired"; }
  [[nodiscard]] KeyAccess& keys() const { return *keys_; }
  [[nodiscard]] fs::path link_key() const { return root_ / "keys" / "debug-link.pem"; }
  [[nodiscard]] fs::path runs() const { return root_ / "runs"; }
  [[nodiscard]] fs::path sheets() const { return root_ / "sheets"; }
  [[nodiscard]] fs::path profiles() const { return root_ / "profiles"; }
  [[nodiscard]] Result<BenchFacts> bench() const;
  [[nodiscard]] Result<void> set_bench(const BenchFacts& facts) const;
  [[nodiscard]] bool has_bench() const;
  /// Loads or makes the 32-byte tag key.
  [[nodiscard]] Result<Bytes> tag_key() const;

 private:
  fs::path root_;
  std::string ledger_;
  std::shared_ptr<KeyAccess> keys_;
};

/// Writes a whole file through a temporary one and rename(2), after fsync: old or new, never half. Its mode
/// is `mode` whatever the umask. io.
[[nodiscard]] Result<void> write_file(const fs::path& file, std::string_view content, unsigned mode = 0600);
[[nodiscard]] Result<std::string> read_file(const fs::path& file, std::size_t max_bytes = 64u << 20);
}  // namespace hb::cli
