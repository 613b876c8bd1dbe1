// Tables of the ledger and single rows. No signatures are checked here.
#pragma once

#include "db.hpp"
#include "reports/ledger/ledger.hpp"

namespace hb::ledger::detail {
inline constexpr std::int64_t kSchemaVersion = 2;
inline constexpr std::string_view kJobSchema = "handback-job-1";
inline constexpr std::string_view kRunSchema = "handback-record-1";
inline constexpr std::string_view kHeadSchema = "handback-head-1";

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
[[nodiscard]] Result<void> insert_entry(const Db& db, const Entry& e, const Digest& leaf);
[[nodiscard]] Result<void> insert_head(const Db& db, const HeadRow& h);
/// Rows in order: seq, kind, created_utc, payload, leaf_hash; or size, root, jws.
[[nodiscard]] Cursor entries_after(const Db& db, std::int64_t seq = INT64_MIN);
[[nodiscard]] Cursor heads(const Db& db);
[[nodiscard]] Result<Entry> read_entry(const Db& db, std::int64_t seq);

/// What a payload's content says about its row. Errors: bad_format.
struct Described {
  std::string kind, created_utc, id, job_id;
  bool release = false;
};
[[nodiscard]] Result<Described> describe(const nlohmann::json& content);

/// Tree nodes above the leaves, layout 2: kept as they become complete, so that proofs need O(log n) rows.
[[nodiscard]] Result<void> insert_nodes(const Db& db, std::int64_t size, std::span<const Digest> completed);
[[nodiscard]] Result<void> rebuild_nodes(const Db& db);
/// Level 0 comes from the entries. Errors: also altered when it is not there.
[[nodiscard]] Result<Digest> node_at(const Db& db, unsigned level, std::uint64_t place);

/// Derived tables: an index from names to seq, rebuilt from the entries whenever they do not match.
[[nodiscard]] Result<void> index_entry(const Db& db, std::int64_t seq, const Described& d);
/// `counted`: whether this Ledger has counted the index's rows already, which is the expensive part.
[[nodiscard]] Result<void> ensure_index(const Db& db, bool writable, bool& counted);
/// seq of a job or run; 0: not there.
[[nodiscard]] Result<std::int64_t> find_seq(const Db& db, std::string_view kind, std::string_view id);
[[nodiscard]] Result<std::vector<std::int64_t>> run_seqs(const Db& db, std::string_view job_id,
                                                         bool release_only);
[[nodiscard]] Result<std::int64_t> jobs_on(const Db& db, std::string_view day);  ///< highest number that day

[[nodiscard]] std::string head_content(std::int64_t size, ByteView root, std::string_view at_utc);
}  // namespace hb::ledger::detail
