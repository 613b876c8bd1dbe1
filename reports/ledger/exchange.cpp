#include <fmt/format.h>

#include "detail/audit.hpp"
#include "detail/impl.hpp"

namespace hb::ledger {
namespace {
using nlohmann::json;
constexpr std::string_view kExportSchema = "handback-ledger-2", kOldSchema = "handback-ledger-1";

Error no_export(std::string where) {
  return {ErrorCode::bad_format, "this is no export of a ledger", std::move(where),
          "Expected the output of `handback ledger export`."};
}
Error doubtful(ErrorCode code, std::int64_t seq, std::string_view why) {
  return {code, fmt::format("entry {} is doubtful, so nothing was imported: {}", seq, why),
          "entry " + std::to_string(seq),
          "Export again from the ledger itself, or ask whose key is missing."};
}

struct Imported {
  Entry entry;
  std::string head_jws;
};
Result<Imported> read_imported(const json& e, const json& head, std::int64_t expected) {
  if (!e.is_object() || !head.is_string() || e.value("seq", json()) != expected)
    return doubtful(ErrorCode::bad_format, expected, "it is not written as an export writes it");
  Imported out;
  for (const auto& [member, into] : {std::pair{"kind", &out.entry.kind},
                                     {"created_utc", &out.entry.created_utc},
                                     {"payload", &out.entry.payload}}) {
    const auto it = e.find(member);
    if (it == e.end() || !it->is_string())
      return doubtful(ErrorCode::bad_format, expected, "it is not written as an export writes it");
    *into = it->get<std::string>();
  }
  if (e.value("leaf_hash", json()) != hex(leaf_hash(as_bytes(out.entry.payload))))
    return doubtful(ErrorCode::altered, expected, "its payload does not give its hash");
  const auto payload = sign::peek(out.entry.payload);
  if (payload && record::is_concealed(*payload)) out.entry.payload += '~';
  if (const auto it = e.find("disclosures"); it != e.end()) {
    if (!it->is_string() || !out.entry.payload.ends_with('~'))
      return doubtful(ErrorCode::bad_format, expected, "it is not written as an export writes it");
    out.entry.payload += it->get_ref<const std::string&>();
  }
  out.entry.seq = expected;
  out.head_jws = head.get<std::string>();
  return out;
}

/// Signed by somebody trusted, valid, and resting only on what came before it.
Result<detail::Described> examine(const detail::Db& db, const Entry& e, const sign::KeyRing& ring) {
  const auto v = sign::verify_jws(e.jws(), ring);
  if (!v) return doubtful(v.error().code, e.seq, v.error().what);
  if (!v->known) return doubtful(ErrorCode::unknown_key, e.seq, "nobody vouches for its key");
  auto content = record::parse_strict(v->payload);
  auto d = content ? detail::describe(*content) : Result<detail::Described>(content.error());
  if (!d) return doubtful(ErrorCode::altered, e.seq, d.error().what);
  const auto revealed = record::reveal(std::move(*content), sign::disclosures_of(e.payload));
  if (!revealed) return doubtful(ErrorCode::altered, e.seq, revealed.error().what);
  if (d->kind == "run") {
    if (const auto valid = record::validate(revealed->document); !valid)
      return doubtful(ErrorCode::altered, e.seq, valid.error().what);
  } else if (d->kind == "job") {
    const auto job = record::job_from_json(revealed->document.value("job", json()));
    if (!job) return doubtful(ErrorCode::altered, e.seq, job.error().what);
  }
  const auto same = detail::find_seq(db, d->kind, d->id);
  if (!same) return same.error();
  if (*same != 0) return doubtful(ErrorCode::altered, e.seq, "its number was used before");
  if (d->kind != "run") return d;  // what it takes back is looked at with the whole ledger
  const auto job = detail::find_seq(db, "job", d->job_id);
  if (!job) return job.error();
  if (*job == 0) return doubtful(ErrorCode::altered, e.seq, "its job does not come before it");
  return d;
}
}  // namespace

Result<nlohmann::json> Ledger::export_json() const {
  nlohmann::json entries = nlohmann::json::array();
  const auto add = [&](const Entry& e) -> Result<void> {
    nlohmann::json row = {{"seq", e.seq},
                          {"kind", e.kind},
                          {"created_utc", e.created_utc},
                          {"leaf_hash", hex(leaf_hash(as_bytes(e.jws())))},
                          {"payload", e.jws()}};
    if (const auto d = sign::disclosures_of(e.payload); !d.empty()) row["disclosures"] = d;
    entries.push_back(std::move(row));
    return {};
  };
  const auto snapshot = impl_->snapshot();
  if (!snapshot) return snapshot.error();
  if (auto r = each(add); !r) return std::move(r).error();
  auto heads = nlohmann::json::array();
  auto rows = detail::heads(impl_->db());
  for (;;) {
    auto more = rows.next();
    if (!more) return std::move(more).error();
    if (!*more) break;
    heads.push_back(rows.row().text(2));
  }
  return nlohmann::json{
      {"schema", kExportSchema}, {"entries", std::move(entries)}, {"heads", std::move(heads)}};
}

Result<std::int64_t> Ledger::import_json(const json& exported, const sign::KeyRing& ring) {
  if (!impl_->writable()) return detail::read_only(impl_->db());
  const auto schema = exported.is_object() ? exported.value("schema", json()) : json();
  if (schema != kExportSchema && schema != kOldSchema) return no_export("/schema");
  const auto entries = exported.find("entries"), heads = exported.find("heads");
  if (entries == exported.end() || !entries->is_array()) return no_export("/entries");
  if (heads == exported.end() || !heads->is_array() || heads->size() != entries->size())
    return no_export("/heads");
  return impl_->in_transaction([&]() -> Result<std::int64_t> {
    const auto& db = impl_->db();
    const auto last = detail::last_seq(db);
    if (!last) return last.error();
    if (*last != 0)
      return Error{ErrorCode::refused, "the ledger has entries already", db.where(),
                   "Import into a new ledger: nothing is ever mixed in."};
    Frontier frontier;
    std::int64_t seq = 0;
    for (std::size_t i = 0; i < entries->size(); ++i) {
      auto e = read_imported((*entries)[i], (*heads)[i], ++seq);
      if (!e) return std::move(e).error();
      const auto d = examine(db, e->entry, ring);
      if (!d) return d.error();
      const auto leaf = leaf_hash(as_bytes(e->entry.jws()));
      std::vector<Digest> completed;
      frontier.push(leaf, &completed);
      if (auto r = detail::insert_entry(db, e->entry, leaf); !r) return std::move(r).error();
      if (auto r = detail::index_entry(db, seq, *d); !r) return std::move(r).error();
      if (auto r = detail::insert_nodes(db, seq, completed); !r) return std::move(r).error();
      const auto root = frontier.root();
      if (auto r = detail::insert_head(
              db, {seq, std::string(as_text(root)), frontier.bytes(), std::move(e->head_jws)});
          !r)
        return std::move(r).error();
    }
    const auto a = detail::audit(db, ring, {});  // the very rows that were written, heads and dates too
    if (!a) return a.error();
    if (!a->sound()) return doubtful(ErrorCode::altered, a->first_bad, a->says);
    return seq;
  });
}
}  // namespace hb::ledger
