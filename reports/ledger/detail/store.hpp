// Tables of the ledger and single rows. No signatures are checked here.
#pragma once

#include "db.hpp"
#include "reports/ledger/ledger.hpp"

namespace hb::ledger::detail {
inline constexpr std::int64_t kSchemaVersion = 3;
inline constexpr std::string_view kJobSchema = "handback-job-1";
inline constexpr std::string_view kRunSchema = "handback-record-1";
inline constexpr std::string_view kHeadSchema = "handback-head-1";
inline constexpr std::string_view kWithdrawalSchema = "handback-withdrawal-1";
inline constexpr std::string_view kErasureSchema = "handback-erasure-1";

/// Makes the tables of an empty database, or brings those of an older layout up to date, in one transaction.
/// For reading, an older layout is left as it is. Gives the layout's version; refuses a newer one.
[[nodiscard]] Result<std::int64_t> prepare_tables(Db& db, bool writable);

struct HeadRow {
  std::int64_t size = 0;
  std::string root, frontier, jws;
};
[[nodiscard]] Result<HeadRow> last_head(const Db& db);
[[nodiscard]] Result<HeadRow> head_of(const Db& db, std::int64_t size);  ///< size 0: not there
[[nodiscard]] Result<std::int64_t> last_seq(const Db& db);
/// The signature into one table, what it discloses into another.
[[nodiscard]] Result<void> insert_entry(const Db& db, const Entry& e, const Digest& leaf);
[[nodiscard]] Result<void> insert_head(const Db& db, const HeadRow& h);
/// Rows in order: seq, kind, created_utc, payload, leaf_hash, disclosures; or size, root, jws, frontier.
/// `kind`: only these; a word of this program.
[[nodiscard]] Cursor entries_after(const Db& db, std::int64_t seq = INT64_MIN, const char* kind = nullptr);
/// Of a row of entries_after. Errors: altered.
[[nodiscard]] Result<Entry> to_entry(const Statement& row);
[[nodiscard]] Cursor heads(const Db& db);
[[nodiscard]] Result<Entry> read_entry(const Db& db, std::int64_t seq);

/// What a payload's content says about its row, with or without its texts. Errors: bad_format.
struct Described {
  std::string kind, created_utc;
  std::string id, job_id;  ///< of a withdrawal or an erasure: those of what it is of
  bool release = false;
  bool of_job = false;                ///< withdrawal, erasure: of a job, not of a run
  std::string reason;                 ///< withdrawal
  std::vector<std::int64_t> entries;  ///< erasure: whose texts went
  std::string key_id;                 ///< withdrawal, erasure: the bench's
};
[[nodiscard]] Result<Described> describe(const nlohmann::json& content);

/// Tree nodes above the leaves, layout 2: kept as they become complete, so that proofs need O(log n) rows.
[[nodiscard]] Result<void> insert_nodes(const Db& db, std::int64_t size, std::span<const Digest> completed);
[[nodiscard]] Result<void> rebuild_nodes(const Db& db);
/// Those of the heads: they follow from the leaves in the same way.
[[nodiscard]] Result<void> rebuild_frontiers(const Db& db);
/// Level 0 comes from the entries. Errors: also altered when it is not there.
[[nodiscard]] Result<Digest> node_at(const Db& db, unsigned level, std::uint64_t place);

/// Derived tables: an index from names to seq, rebuilt from the entries whenever they do not match.
struct IndexRow {
  std::int64_t seq = 0;
  std::string kind, id, job_id;
  std::int64_t release = 0;
  std::string day;
  std::int64_t number = 0;
  friend bool operator==(const IndexRow&, const IndexRow&) = default;
};
[[nodiscard]] IndexRow index_row(std::int64_t seq, const Described& d);
[[nodiscard]] IndexRow to_index_row(const Statement& row);
[[nodiscard]] Cursor index_rows(const Db& db);
[[nodiscard]] Result<void> rebuild_index(const Db& db);
[[nodiscard]] Result<void> index_entry(const Db& db, std::int64_t seq, const Described& d);
/// `counted`: whether this Ledger has counted the index's rows already, which is the expensive part.
[[nodiscard]] Result<void> ensure_index(const Db& db, bool writable, bool& counted);
/// seq of a job or run; 0: not there.
[[nodiscard]] Result<std::int64_t> find_seq(const Db& db, std::string_view kind, std::string_view id);
[[nodiscard]] Result<std::vector<std::int64_t>> run_seqs(const Db& db, std::string_view job_id);
[[nodiscard]] Result<std::int64_t> jobs_on(const Db& db, std::string_view day);  ///< highest number that day

/// Deletes the texts of these entries; the erasure has been appended.
[[nodiscard]] Result<void> delete_disclosures(const Db& db, const std::vector<std::int64_t>& entries);
/// Texts of no entry, and those that an erasure took out and somebody put back. True: there were some.
[[nodiscard]] Result<bool> delete_stray_disclosures(const Db& db);
/// The layout that the tables themselves show, whatever number they say; and the mend.
[[nodiscard]] Result<std::int64_t> layout_of_tables(const Db& db);
[[nodiscard]] Result<void> mend_layout_number(const Db& db);
[[nodiscard]] Result<std::int64_t> count(const Db& db, std::string_view sql);  ///< one integer

[[nodiscard]] nlohmann::json withdrawal_content(const Described& d);
[[nodiscard]] nlohmann::json erasure_content(const Described& d);
[[nodiscard]] std::string head_content(std::int64_t size, ByteView root, std::string_view at_utc);
}  // namespace hb::ledger::detail
