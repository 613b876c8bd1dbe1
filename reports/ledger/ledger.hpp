/// The shop's ledger: an append-only list of jobs and runs, and of what was taken back, in one SQLite file.
/// Every entry is a leaf of an RFC 6962 Merkle tree; each append writes a signed head (size and root) in the
/// same transaction, so that a past that was rewritten, reordered or cut out shows.
///
/// What it cannot show by itself: somebody with the file can put back an older copy of the whole file.
/// Whoever keeps a later head (a backup, a sheet) can show it: verify() takes one.
///
/// It may also be the tables of a PostgreSQL database that benches share: README.md.
///
/// Durability: write-ahead log with synchronous=FULL (PostgreSQL: synchronous_commit); an append that
/// returned a value survives a power cut. Several processes may append at once, with a busy timeout. Errors
/// of every call: io (disk full, read-only, locked by another program, no permission: nothing already
/// acknowledged is lost), bad_format (not a ledger, or made by a newer program), altered (rows that an append
/// or a look-up rests on are not as this program wrote them: verify() tells which). Threads: one Ledger is
/// used by one thread at a time; open one a thread.
#pragma once

#include <chrono>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "reports/ledger/merkle.hpp"
#include "reports/ledger/withdrawal.hpp"
#include "reports/record/record.hpp"
#include "reports/sign/sign.hpp"

namespace hb::ledger {

struct Options {
  std::chrono::milliseconds busy_timeout{5000};
  /// Seconds since 1970, UTC: the date of new job numbers and heads. Empty: the system's clock.
  std::function<std::int64_t()> utc_now_s;
  /// For the hashes of typed texts. Empty: the system's random numbers.
  record::Salt salt{};
  /// Name of a registered SQLite VFS, for tests and for file systems that need one. Empty: the default.
  std::string vfs{};
};

/// One entry. Its leaf is the JWS alone, so the tree is the same with and without the typed texts beside it;
/// the content says what `kind` and `created_utc` must be, so that nothing in a row is outside the signature.
struct Entry {
  std::int64_t seq = 0;     ///< from 1, without gaps
  std::string kind;         ///< "job", "run", "withdrawal" or "erasure"
  std::string created_utc;  ///< a job's opened, a run's finished, else when it was appended
  std::string payload;      ///< the signed text with what it discloses: sign::sign_concealed
  nlohmann::json content;   ///< {"schema":"handback-job-1","job":{...}}, a record, or as in withdrawal.hpp
  std::vector<std::string> erased;  ///< JSON pointers of texts that are no longer there
  [[nodiscard]] std::string_view jws() const noexcept { return sign::jws_of(payload); }
};

/// {"at":utc,"root":hex,"schema":"handback-head-1","size":n}, signed.
struct Head {
  std::int64_t size = 0;
  Digest root{};
  std::string jws;  ///< empty for an empty ledger
};

/// What an append gives back once the entry is on the disk.
struct Receipt {
  std::int64_t seq = 0;
  Head head;
};

/// Goes onto a sheet: that the entry is in the ledger, checkable with verify_inclusion and the signed head.
struct Inclusion {
  std::int64_t seq = 0;
  Digest leaf{};
  std::vector<Digest> path;
  Head head;
};

/// That the ledger of `old_head` is the beginning of the one of `head`: verify_consistency.
struct Consistency {
  Head old_head;
  std::vector<Digest> path;
  Head head;
};

enum class Flaw {
  none,
  rewritten,
  missing,
  reordered,
  truncated,
  bad_signature,
  unknown_key,
  bad_head,
  missing_text,  ///< texts are gone, and no entry says that they were erased
  derived        ///< every signed entry is as it was; rows that follow from them are not: repair() mends them
};
[[nodiscard]] Term name(Flaw f) noexcept;

struct Audit {
  Flaw flaw = Flaw::none;
  std::int64_t entries = 0;            ///< that were read
  std::int64_t first_bad = 0;          ///< seq of the first entry that is not as it was; 0 if none
  std::string says;                    ///< one sentence
  std::vector<std::string> derived{};  ///< each row that does not follow from the entries (the first kShown)
  std::vector<std::string> notes{};    ///< what was withdrawn and erased, when and by whom
  static constexpr std::size_t kShown = 50;
  [[nodiscard]] bool sound() const noexcept { return flaw == Flaw::none; }
};

class Ledger {
 public:
  /// `place` is a file or a connection string of PostgreSQL. Made if new; a ledger of an older layout is
  /// brought up to date in one transaction.
  [[nodiscard]] static Result<Ledger> open(const std::string& place, sign::SigningKey key,
                                           Options options = {});
  /// Without a key: for reading and verifying; nothing is written, an older layout stays as it is. Appends
  /// give invalid_argument. Errors: also not_found.
  [[nodiscard]] static Result<Ledger> read(const std::string& place, Options options = {});
  Ledger(Ledger&&) noexcept;
  Ledger& operator=(Ledger&&) noexcept;
  ~Ledger();

  /// Gives the job its number, "J-YYYYMMDD-NNNN" by its opening date, and keeps it. `fields.opened_utc` may
  /// be given (a job written up later); empty means now. Errors: also not_found for a `comeback_of` that is
  /// not here, privacy or bad_format for fields that the schema refuses.
  [[nodiscard]] Result<record::Job> open_job(record::Job fields);
  /// Keeps a run's record. The record must be signed with this ledger's key, with all its texts, and its job
  /// must be here. The same bytes again give the first receipt (so a crash between append and answer is safe
  /// to repeat). Errors: also those of sign::verify_record, not_found (job), invalid_argument (run number
  /// used before), refused (the job was withdrawn).
  [[nodiscard]] Result<Receipt> append_run(std::string_view record_jws);
  /// validate, sign with this ledger's key: what append_run takes. A record that is in the ledger already
  /// gives the text that is kept there, although a new signature would have new salts.
  [[nodiscard]] Result<std::string> sign_record(const nlohmann::json& record) const;

  /// Takes a run or a job ("J-...") back; of a job also all its runs. For good. Errors: also not_found,
  /// refused (taken back before), invalid_argument (a reason that is not one of kWithdrawalReasons).
  [[nodiscard]] Result<Withdrawal> withdraw(std::string_view id, std::string_view reason);
  /// Takes the typed texts of a withdrawn run or job out, also those of the job's runs. May be repeated: what
  /// a full disk or another program prevented is then done. Errors: also not_found, refused (not withdrawn,
  /// or signed before texts lay apart).
  [[nodiscard]] Result<Erasure> erase(std::string_view id);
  /// Makes every row anew that follows from the signed entries and is not as it should be; nothing that was
  /// signed is touched. Gives what was found; derived rows are mended then. Errors: altered when a signed
  /// entry is not as it was written (nothing is changed then), unknown_key.
  [[nodiscard]] Result<Audit> repair(const sign::KeyRing& ring);
  [[nodiscard]] std::string key_id() const;  ///< of this ledger's key; empty when opened for reading
  /// Everything that `work` appends becomes durable together, or not at all when it returns an error.
  [[nodiscard]] Result<void> together(const std::function<Result<void>()>& work);

  /// In order of seq. `visit` may stop by returning an error, which is handed on. Reads one row at a time.
  /// `kind`: only these.
  [[nodiscard]] Result<void> each(const std::function<Result<void>(const Entry&)>& visit,
                                  const char* kind = nullptr) const;
  /// Without those that were withdrawn.
  [[nodiscard]] Result<std::vector<record::Job>> jobs() const;
  [[nodiscard]] Result<record::Job> job(
      std::string_view job_id) const;  ///< Errors: not_found, refused (withdrawn)
  /// Without those that were withdrawn.
  [[nodiscard]] Result<std::vector<Entry>> runs(std::string_view job_id) const;
  [[nodiscard]] Result<Entry> job_entry(std::string_view job_id) const;  ///< Errors: also not_found
  [[nodiscard]] Result<Entry> find(std::string_view run_id) const;       ///< Errors: also not_found
  /// The last release run of the same job after this run, if any: the sheet of this run is superseded. Rests
  /// on the entries themselves, each checked against `ring` when one is given, and on no derived row; a
  /// withdrawn run supersedes nothing. Reads the runs after this one. Errors: also not_found; altered or
  /// unknown_key for an entry that decides and does not hold.
  [[nodiscard]] Result<std::optional<Entry>> superseded_by(std::string_view run_id,
                                                           const sign::KeyRing* ring = nullptr) const;
  /// Of a run or a job ("J-..."): its withdrawal, or that of its job. Empty: it stands, or is not here.
  /// Rests on the entries as superseded_by does.
  [[nodiscard]] Result<std::optional<Withdrawal>> withdrawn(std::string_view id,
                                                            const sign::KeyRing* ring = nullptr) const;
  [[nodiscard]] Result<Head> head() const;
  /// The head that was signed when the ledger had `size` entries. Errors: also not_found
  [[nodiscard]] Result<Head> head(std::int64_t size) const;
  [[nodiscard]] Result<Inclusion> inclusion(std::int64_t seq) const;           ///< Errors: also not_found
  [[nodiscard]] Result<Consistency> consistency(std::int64_t old_size) const;  ///< Errors: also not_found

  /// {"schema":"handback-ledger-2","entries":[{seq,kind,created_utc,leaf_hash,payload,disclosures}],
  /// "heads":[jws]}: `payload` is the JWS; `disclosures` may be missing (nothing to disclose, or erased).
  /// "handback-ledger-1", without disclosures, is read as well.
  [[nodiscard]] Result<nlohmann::json> export_json() const;
  /// All of an export or nothing, into an empty ledger; gives the number of entries. Every signature, hash,
  /// head and record is checked first. Errors: refused (the ledger is not empty), bad_format (no export),
  /// altered or unknown_key naming the first doubtful entry.
  [[nodiscard]] Result<std::int64_t> import_json(const nlohmann::json& exported, const sign::KeyRing& ring);
  /// Reads every row of every table and recomputes everything. `earlier_head` is a head's JWS kept elsewhere.
  /// A flaw is a value of Audit, not an Error.
  [[nodiscard]] Result<Audit> verify(const sign::KeyRing& ring, std::string_view earlier_head = {}) const;

 private:
  struct Impl;
  explicit Ledger(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};
}  // namespace hb::ledger
