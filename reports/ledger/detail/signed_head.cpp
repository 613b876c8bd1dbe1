#include "signed_head.hpp"

namespace hb::ledger::detail {
std::optional<SignedHead> read_head(const std::string& payload) {
  const auto j = record::parse_strict(payload);
  if (!j || !j->is_object() || j->value("schema", nlohmann::json()) != kHeadSchema) return std::nullopt;
  const auto size = j->find("size"), root = j->find("root"), at = j->find("at");
  if (size == j->end() || root == j->end() || at == j->end() || !size->is_number_integer() ||
      !root->is_string() || !at->is_string())
    return std::nullopt;
  return SignedHead{size->get<std::int64_t>(), root->get<std::string>(), at->get<std::string>()};
}

std::optional<Audit> check_signature(const Result<sign::Verified>& v, std::int64_t seq,
                                     std::string_view at_utc, const std::string& what) {
  const auto flaw = [&](Flaw f, const std::string& why) { return Audit{f, 0, seq, what + ": " + why}; };
  if (!v) {
    const bool unknown = v.error().code == ErrorCode::unknown_key;
    return flaw(unknown ? Flaw::unknown_key : Flaw::bad_signature, v.error().what);
  }
  if (!v->known) return flaw(Flaw::unknown_key, "nobody vouches for its key");
  if (!v->revoked_utc.empty() && at_utc >= v->revoked_utc)
    return flaw(Flaw::unknown_key, "its key was revoked before");
  return std::nullopt;
}
}  // namespace hb::ledger::detail
