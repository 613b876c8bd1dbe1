// Private to harness/cli: opening key files, asking for passphrases, and what else vouches for keys.
#pragma once

#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "reports/sign/certificate.hpp"
#include "reports/sign/sign.hpp"

namespace hb::cli {
class Home;

/// How this process gets at private keys. A passphrase is asked for once a file: from --passphrase-fd one
/// line after the other, else at the terminal without echo. Threads: one.
class KeyAccess {
 public:
  std::string key_file;    ///< --key: in place of the bench's own file
  int passphrase_fd = -1;  ///< --passphrase-fd

  /// Errors: those of SigningKey::load; unauthorised when nobody can be asked; cancelled.
  [[nodiscard]] Result<sign::SigningKey> open(const std::filesystem::path& file);
  /// For a key that is to be protected; at the terminal it is typed twice. Errors: also invalid_argument.
  [[nodiscard]] Result<sign::Passphrase> new_passphrase(const std::filesystem::path& file);

 private:
  [[nodiscard]] Result<sign::Passphrase> ask(const std::string& prompt);
  std::map<std::string, sign::SigningKey> opened_;
};

/// Saves the key, asking for a new passphrase when it is to be protected.
[[nodiscard]] Result<void> save_key(const Home& home, const sign::SigningKey& key,
                                    const std::filesystem::path& file, bool protect);
/// The same over a file that is there: old or new, never neither.
[[nodiscard]] Result<void> replace_key(const Home& home, const sign::SigningKey& key,
                                       const std::filesystem::path& file, bool protect);
[[nodiscard]] bool is_protected_file(const std::filesystem::path& file);
/// Whose private key a file holds, without opening it: no passphrase is asked for, and nothing is proved.
[[nodiscard]] Result<std::string> key_id_of(const std::filesystem::path& file);

/// Reads a public JWK. Errors: as PublicKey::from_jwk, naming the file.
[[nodiscard]] Result<sign::PublicKey> read_public_key(const std::filesystem::path& file);
/// Compact JWTs of a file, divided by white space.
[[nodiscard]] Result<std::vector<std::string>> read_tokens(const std::filesystem::path& file);

struct TrustFiles {
  std::vector<std::string> keys, roots, certificates, lists;
};
/// The roots, certificates and lists of this bench's folder, and those of the files named. Errors name the
/// file; a certificate or list that no root signed is an error only when it was named.
[[nodiscard]] Result<sign::Vouching> gather_trust(const Home& home, const TrustFiles& named);
/// The ring to check a document with: keys trusted by themselves, and those that the roots vouch for by the
/// bench's certificates and those that the document brings along.
[[nodiscard]] Result<sign::KeyRing> ring_for(const Home& home, const TrustFiles& named,
                                             std::string_view document = {});
/// The certificates to lay beside a sheet: of these keys, and the bridges between roots.
[[nodiscard]] Result<std::vector<std::string>> certificates_of(const Home& home,
                                                               const std::vector<std::string>& key_ids);

/// What customers who trust the shop's root can check of a key's runs: until when, or why not at all.
struct Certified {
  enum class State { no_root, missing, ended, ends_soon, good } state = State::no_root;
  std::string until;  ///< UTC; empty without a certificate
  std::string says;   ///< for a person
};
/// Now. "Soon": within two weeks.
[[nodiscard]] Result<Certified> certified(const Home& home, const std::string& key_id);
}  // namespace hb::cli
