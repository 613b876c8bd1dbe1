#include "reports/sign/summary.hpp"

namespace hb::sign {
namespace {
std::string record_hash(std::string_view record_jws) {
  const auto digest = sha256(as_bytes(jws_of(record_jws)));  // the same with texts erased
  return base64url(ByteView(digest).first(16));
}

constexpr const char* kMembers[] = {"d", "h", "j", "o", "r", "t"};

bool is_summary(const nlohmann::json& j) {
  if (!j.is_object() || j.size() != std::size(kMembers) + 1 || j.value("v", nlohmann::json()) != 1)
    return false;
  for (const char* m : kMembers)
    if (const auto it = j.find(m); it == j.end() || !it->is_string()) return false;
  return true;
}
}  // namespace

Result<std::string> make_summary(std::string_view record_jws, const SigningKey& key) {
  const auto r = peek(record_jws);
  if (!r) return r.error();
  if (auto valid = record::validate(*r); !valid) return std::move(valid).error();
  const nlohmann::json j = {{"v", 1},
                            {"j", (*r)["job"]["id"]},
                            {"r", (*r)["run"]["id"]},
                            {"o", (*r)["outcome"]},
                            {"d", (*r)["run"]["finished"]},
                            {"t", (*r)["phone"]["tail"]},
                            {"h", record_hash(record_jws)}};
  auto text = record::canonical(j);
  if (!text) return std::move(text).error();
  return make_jws(*text, key);
}

Result<VerifiedSummary> verify_summary(std::string_view jws, const KeyRing& ring) {
  auto v = verify_jws(jws, ring);
  if (!v) return std::move(v).error();
  const auto j = record::parse_strict(v->payload);
  const auto text = j ? record::canonical(*j) : Result<std::string>(Error{});
  if (!j || !is_summary(*j) || !text || *text != v->payload)
    return Error{ErrorCode::altered, "what was signed is no summary of a run", "summary", ""};
  const auto get = [&](const char* m) { return (*j)[m].get<std::string>(); };
  return VerifiedSummary{Summary{get("j"), get("r"), get("o"), get("d"), get("t"), get("h")}, std::move(*v)};
}

bool belongs_to(const Summary& s, std::string_view record_jws) {
  return s.record_hash == record_hash(record_jws);
}
}  // namespace hb::sign
