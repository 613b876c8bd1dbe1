// Private to harness/cli: the revocation lists of roots, on the bench and beside a root's key. A revocation
// that was known once stays known: lists add up, none takes the place of another that says more, and beside
// each list lies a memory of its entries (FILE.known, JSON, unsigned), so that a list that is lost or damaged
// lets no older one in. The memory can only ask for more; it revokes nothing by itself.
#pragma once

#include <optional>

#include "home.hpp"
#include "keys.hpp"

namespace hb::cli {
using Revoked = std::vector<sign::RevocationList::Entry>;

/// One list file as it lies there.
struct ListFile {
  enum class State {
    good,
    missing,
    empty,
    damaged,   ///< something in it is no list of this root
    forgetful  ///< whole, but it lacks entries that were here before
  } state = State::missing;
  fs::path file;
  std::vector<std::string> tokens;  ///< lists of this root whose signature holds, as they stand in the file
  Revoked revoked;                  ///< of these, merged
  Revoked remembered;               ///< and of the memory, merged
  bool memory = false;              ///< there is one that can be read
  std::int64_t number = 0;          ///< highest of the tokens and the memory
};
/// Errors: io.
[[nodiscard]] Result<ListFile> read_list(const fs::path& file, const sign::PublicKey& root);

[[nodiscard]] fs::path list_of(const Home& home, const std::string& root_id);  ///< keys/revoked/ROOT.jwt
[[nodiscard]] fs::path list_beside(const fs::path& root_key_file, const std::string& root_id);

/// A list whose signature holds is taken in: in place of the one here when it keeps every entry known here,
/// beside it when it knows something new but lacks something too. What was done, in words. Errors: refused
/// for a list that is only older (naming the keys that it lacks), or that may be older than one that is
/// damaged.
[[nodiscard]] Result<std::string> take_list(const Home& home, const sign::PublicKey& root,
                                            const std::string& token, const std::string& where);

struct NewList {
  fs::path file, beside;
  std::int64_t number = 0;
  Revoked revoked;
};
/// Signs one list of all that is known: the bench's, the one beside the root's key, the lists of `files`, and
/// `more`; writes it to both places. Errors: altered when a list that is needed is damaged and nothing tells
/// what it held; those of the files.
[[nodiscard]] Result<NewList> write_merged_list(const Home& home, const sign::SigningKey& root,
                                                const fs::path& root_key_file, const Revoked& more,
                                                const std::vector<std::string>& files = {});

/// A list that should be there to say "authentic", and is not as it should be.
struct ListTrouble {
  std::string root_id;  ///< empty: of a file that was named, whoever it is of
  bool missing = false;
  std::string says, next;
};
/// Of the roots in the bench's folder, and of the list files that were named.
[[nodiscard]] Result<std::vector<ListTrouble>> list_troubles(const Home& home, const TrustFiles& named);
}  // namespace hb::cli
