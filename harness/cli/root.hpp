// Private to harness/cli: what a root does with files. Errors: those of the keys and files used.
#pragma once

#include <optional>

#include "home.hpp"
#include "keys.hpp"

namespace hb::cli {
struct Issued {
  std::string jwt, serial;
  fs::path file;  ///< keys/certificates/KEYID-SERIAL.jwt
  std::int64_t from_s = 0, until_s = 0;
};
[[nodiscard]] Result<Issued> issue_bench_certificate(const Home& home, const sign::SigningKey& root,
                                                     const sign::PublicKey& bench, const std::string& label,
                                                     std::int64_t from_s, int days);
struct ChangedRoot {
  std::string key_id;
  fs::path public_file, retired;
  int certified = 0;
};
/// A root's own key file, where this bench has it: keys/root.jwk or one in keys/retired; empty otherwise.
[[nodiscard]] fs::path root_key_file_of(const Home& home, const std::string& root_id);
/// A new root in the place of `old`: certifies every bench again, takes the revocations over, and either
/// confirms the old one and is confirmed by it, or (`stolen_since`) revokes it.
[[nodiscard]] Result<ChangedRoot> change_root(const Home& home, const sign::SigningKey& old,
                                              const fs::path& file, bool protect,
                                              std::optional<std::int64_t> stolen_since);
/// A root's public JWK, or certificates and lists of a root that is here already. What was taken, in words.
[[nodiscard]] Result<std::vector<std::string>> accept_file(const Home& home, const fs::path& file);

/// Keeps the file as keys/retired/KEYID.jwk and puts `next` in its place: one of both is there at any time.
[[nodiscard]] Result<fs::path> retire(const Home& home, const std::string& key_id, const fs::path& file,
                                      const fs::path& next);
}  // namespace hb::cli
