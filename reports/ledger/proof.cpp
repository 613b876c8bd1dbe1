#include "reports/ledger/proof.hpp"

#include <fmt/format.h>

#include "detail/signed_head.hpp"

namespace hb::ledger {
namespace {
using nlohmann::json;
constexpr std::string_view kProofSchema = "handback-proof-1";
/// A path is never longer than the size has bits (twice that for a consistency proof's worst case, less one).
constexpr std::size_t kLongestPath = 128;

json hexes(const std::vector<Digest>& path) {
  auto out = json::array();
  for (const auto& d : path) out.push_back(hex(d));
  return out;
}

std::optional<Digest> digest(std::string_view text) {
  const auto bytes = from_hex(text);
  Digest d{};
  if (!bytes || bytes->size() != d.size()) return std::nullopt;
  std::copy(bytes->begin(), bytes->end(), d.begin());
  return d;
}

Error no_proof(std::string where) {
  return {ErrorCode::bad_format, "this is no proof of a ledger", std::move(where),
          "Expected the output of `handback ledger prove` or `handback ledger consistency`."};
}

struct Parsed {
  bool inclusion = false;
  std::int64_t seq = 0;
  std::string entry, old_head, head;
  std::vector<Digest> path;
};

Result<Parsed> parse(std::string_view text) {
  const auto j = record::parse_strict(text);
  if (!j) return no_proof(j.error().where);
  if (!j->is_object() || j->value("schema", json()) != kProofSchema) return no_proof("/schema");
  const auto kind = j->value("kind", json());
  Parsed p;
  p.inclusion = kind == "inclusion";
  if (!p.inclusion && kind != "consistency") return no_proof("/kind");
  const std::pair<const char*, std::string*> inclusion[] = {{"head", &p.head}, {"entry", &p.entry}},
                                             consistency[] = {{"head", &p.head}, {"old_head", &p.old_head}};
  for (const auto& [member, into] : p.inclusion ? inclusion : consistency) {
    const auto it = j->find(member);
    if (it == j->end() || !it->is_string()) return no_proof(fmt::format("/{}", member));
    *into = it->get<std::string>();
  }
  const auto path = j->find("path");
  if (path == j->end() || !path->is_array() || path->size() > kLongestPath) return no_proof("/path");
  for (const auto& h : *path) {
    const auto d = h.is_string() ? digest(h.get_ref<const std::string&>()) : std::nullopt;
    if (!d) return no_proof("/path");
    p.path.push_back(*d);
  }
  if (!p.inclusion) return p;
  const auto seq = j->find("seq");
  if (seq == j->end() || !seq->is_number_integer()) return no_proof("/seq");
  p.seq = seq->get<std::int64_t>();
  return p;
}

/// A head with a good signature. `a.says` tells why there is none.
struct Trusted {
  std::size_t size = 0;
  Digest root{};
  std::string at_utc, kid, label;
};
std::optional<Trusted> trust(const std::string& jws, const char* what, const sign::KeyRing& ring,
                             ProofAnswer& a) {
  const auto v = sign::verify_jws(jws, ring);
  const auto h = v ? detail::read_head(v->payload) : std::nullopt;
  if (const auto bad = detail::check_signature(v, 0, h ? h->at_utc : "", what)) {
    a.says = bad->says;
    a.unknown_key = bad->flaw == Flaw::unknown_key;
    return std::nullopt;
  }
  const auto root = h ? digest(h->root_hex) : std::nullopt;
  if (!root || h->size < 1) {
    a.says = fmt::format("{} is no head of a ledger", what);
    return std::nullopt;
  }
  return Trusted{static_cast<std::size_t>(h->size), *root, h->at_utc, v->kid, v->label};
}

/// True when nothing was kept, or when it says the same as `h`.
bool as_kept(const std::string& jws, const Trusted& h, const sign::KeyRing& ring, ProofAnswer& a) {
  if (jws.empty()) return true;
  const auto k = trust(jws, "the head that you kept", ring, a);
  if (!k) return false;
  if (k->size == h.size && k->root == h.root) return true;
  a.says = "the proof starts from another head than the one that you kept";
  return false;
}

void check_inclusion(const Parsed& p, const Trusted& head, const sign::KeyRing& ring, const Kept& kept,
                     ProofAnswer& a) {
  a.seq = p.seq;
  if (!as_kept(kept.head_jws, head, ring, a)) return;
  if (!kept.record_jws.empty() && sign::jws_of(kept.record_jws) != sign::jws_of(p.entry)) {
    a.says = "the proof is of another record than the one given";
    return;
  }
  const auto v = sign::verify_jws(sign::jws_of(p.entry), ring);
  const auto content = v ? sign::peek(p.entry) : Result<json>(Error{});
  const auto d = content ? detail::describe(*content) : Result<detail::Described>(Error{});
  if (const auto bad = detail::check_signature(v, p.seq, d ? d->created_utc : "", "the entry")) {
    a.says = bad->says;
    a.unknown_key = bad->flaw == Flaw::unknown_key;
    return;
  }
  if (!d) {
    a.says = v && !content ? "the texts beside the entry are not those that were signed"
                           : "the entry is none of the kinds that a ledger holds";
    return;
  }
  const auto leaf = leaf_hash(as_bytes(sign::jws_of(p.entry)));
  if (p.seq < 1 ||
      !verify_inclusion(leaf, static_cast<std::size_t>(p.seq - 1), head.size, p.path, head.root)) {
    a.says = "the path does not lead from the entry to the signed root";
    return;
  }
  a.holds = true;
  a.content = *content;
  a.says = fmt::format("the {} {} is entry {} of the ledger of {} entries", d->kind, d->id, p.seq, head.size);
}

void check_consistency(const Parsed& p, const Trusted& head, const sign::KeyRing& ring, const Kept& kept,
                       ProofAnswer& a) {
  const auto old = trust(p.old_head, "the old head", ring, a);
  if (!old) return;
  a.old_size = static_cast<std::int64_t>(old->size);
  if (!as_kept(kept.head_jws, *old, ring, a)) return;
  if (!verify_consistency(old->size, head.size, old->root, head.root, p.path)) {
    a.says = "the path does not lead from the old root to the new one";
    return;
  }
  a.holds = true;
  a.says = fmt::format("the first {} entries are unchanged; {} were added", old->size, head.size - old->size);
}
}  // namespace

json proof_json(const Inclusion& proof, std::string_view entry_jws) {
  return {{"schema", kProofSchema}, {"kind", "inclusion"},       {"seq", proof.seq},
          {"entry", entry_jws},     {"path", hexes(proof.path)}, {"head", proof.head.jws}};
}

json proof_json(const Consistency& proof) {
  return {{"schema", kProofSchema},
          {"kind", "consistency"},
          {"old_head", proof.old_head.jws},
          {"path", hexes(proof.path)},
          {"head", proof.head.jws}};
}

Result<ProofAnswer> check_proof(std::string_view text, const sign::KeyRing& ring, const Kept& kept) {
  const auto p = parse(text);
  if (!p) return p.error();
  ProofAnswer a;
  a.kind = p->inclusion ? "inclusion" : "consistency";
  const auto head = trust(p->head, "the head", ring, a);
  if (!head) return a;
  a.size = static_cast<std::int64_t>(head->size);
  a.at_utc = head->at_utc;
  a.key_id = head->kid;
  a.key_label = head->label;
  if (p->inclusion)
    check_inclusion(*p, *head, ring, kept, a);
  else
    check_consistency(*p, *head, ring, kept, a);
  return a;
}
}  // namespace hb::ledger
