#include "reports/sign/seal.hpp"

namespace hb::sign {
namespace {
constexpr char kBlank = '.';

std::string_view word(FileKind k) { return k == FileKind::html ? "html" : "pdf"; }
FileKind kind_of(std::string_view file) { return file.starts_with("%PDF-") ? FileKind::pdf : FileKind::html; }

/// Offset behind the only occurrence of `marker`, or nothing.
std::optional<std::size_t> after_only(std::string_view file, std::string_view marker) {
  const auto at = file.find(marker);
  if (at == std::string_view::npos || file.find(marker, at + 1) != std::string_view::npos)
    return std::nullopt;
  return at + marker.size();
}

std::optional<std::size_t> seal_at(std::string_view file) {
  const auto at = after_only(file, kSealMarker);
  if (!at || file.size() - *at <= kSealWidth || file[*at + kSealWidth] != ']') return std::nullopt;
  return at;
}

std::optional<std::string_view> record_in(std::string_view file) {
  const auto at = after_only(file, kRecordMarker);
  if (!at) return std::nullopt;
  const auto end = file.find(']', *at);
  if (end == std::string_view::npos) return std::nullopt;
  return file.substr(*at, end - *at);
}

std::string content(FileKind kind, std::string_view blank_file, std::string_view record_jws) {
  std::string s = R"({"kind":")";
  s += word(kind);
  s += R"(","record_sha256":")" + hex(sha256(as_bytes(record_jws)));
  s += R"(","schema":"handback-seal-1","sha256":")" + hex(sha256(as_bytes(blank_file))) + "\"}";
  return s;
}

Verification say(Verification v, SealStatus status, std::string why) {
  v.status = status;
  v.says = std::move(why);
  if (status == SealStatus::altered) v.record = nullptr;
  return v;
}

Verification altered(Verification v, SealFlaw flaw, std::string why) {
  v.flaw = flaw;
  return say(std::move(v), SealStatus::altered, std::move(why));
}

Verification failed(Verification v, SealFlaw flaw, const Error& e, std::string_view of_what) {
  std::string why = std::string(of_what) + ": " + e.what;
  if (e.code == ErrorCode::unknown_key) return say(std::move(v), SealStatus::unknown_key, std::move(why));
  return altered(std::move(v), flaw, std::move(why));
}

}  // namespace

Term name(SealStatus s) noexcept {
  switch (s) {
    case SealStatus::authentic:
      return "authentic";
    case SealStatus::altered:
      return "altered";
    case SealStatus::unknown_key:
      return "unknown key";
    case SealStatus::revoked_key:
      return "revoked key";
  }
  return "altered";
}

namespace {
Judged judged(const Verified& signature, Standing standing) {
  switch (standing) {
    case Standing::good:
      return {};
    case Standing::not_vouched:
      return {SealStatus::unknown_key, "the signatures hold, but nobody vouches for the key"};
    case Standing::revoked:
      return {SealStatus::revoked_key,
              "the key was revoked from " + signature.revoked_utc + " on, before this run was finished"};
    case Standing::outside:
      return {SealStatus::unknown_key,
              "no certificate of the key covers the time when this run was finished"};
  }
  return {SealStatus::unknown_key, "nobody vouches for the key"};
}

/// A sheet may be written again long after its run, with the key that the bench has by then: a certificate
/// that starts after the run is as good as one that covers it.
Judged judge_seal(const Verified& seal, std::string_view finished_utc) {
  auto standing = seal.entry.at(finished_utc);
  if (standing == Standing::outside)
    for (const auto& span : seal.entry.spans)
      if (finished_utc < span.until_utc) standing = Standing::good;
  return judged(seal, standing);
}
}  // namespace

Judged judge(const Verified& signature, std::string_view signed_utc) {
  return judged(signature, signature.entry.at(signed_utc));
}

std::string empty_seal_slot() {
  std::string slot(kSealMarker);
  slot.append(kSealWidth, kBlank).push_back(']');
  return slot;
}

std::string record_slot(std::string_view record_jws) {
  return std::string(kRecordMarker) + std::string(record_jws) + "]";
}

Result<std::string> seal(std::string file, FileKind kind, std::string_view record_jws,
                         const SigningKey& key) {
  const auto refuse = [](std::string what) {
    return Error{ErrorCode::invalid_argument, std::move(what), "seal", ""};
  };
  const auto at = seal_at(file);
  if (!at) return refuse("the file does not hold exactly one slot for the seal");
  if (file.substr(*at, kSealWidth) != std::string(kSealWidth, kBlank))
    return refuse("the slot for the seal is not empty");
  if (kind_of(file) != kind) return refuse("the file is not of the kind that was said");
  if (kind == FileKind::html && record_in(file) != record_jws)
    return refuse("the page does not carry the record that it is sealed with");
  const auto jws = make_jws(content(kind, file, record_jws), key);
  if (jws.size() > kSealWidth)
    return Error{ErrorCode::internal, "the seal does not fit its slot", "seal", ""};
  file.replace(*at, jws.size(), jws);
  return file;
}

Verification verify_sealed(std::string_view file, const KeyRing& ring, std::string_view pdf_record_jws) {
  Verification v;
  v.kind = kind_of(file);
  const auto at = seal_at(file);
  if (!at) return altered(std::move(v), SealFlaw::no_seal, "the file carries no seal, or more than one");
  const auto found = v.kind == FileKind::html ? record_in(file) : std::optional(pdf_record_jws);
  if (!found || found->empty())
    return altered(std::move(v), SealFlaw::no_record, "the record that belongs to this sheet is missing");
  v.record_jws = std::string(*found);

  auto slot = file.substr(*at, kSealWidth);
  const auto last = slot.find_last_not_of(kBlank);
  slot = slot.substr(0, last == std::string_view::npos ? 0 : last + 1);
  const auto sealed = verify_jws(slot, ring);
  if (!sealed) return failed(std::move(v), SealFlaw::seal, sealed.error(), "the seal");
  v.kid = sealed->kid;
  v.label = sealed->label;
  v.revoked_utc = sealed->revoked_utc;
  v.root_id = sealed->entry.root_id;

  std::string blank(file);
  blank.replace(*at, kSealWidth, kSealWidth, kBlank);
  if (sealed->payload != content(v.kind, blank, v.record_jws))
    return altered(std::move(v), SealFlaw::bytes, "the file was changed after it was sealed");
  auto recorded = verify_record(v.record_jws, ring);
  if (!recorded) return failed(std::move(v), SealFlaw::record, recorded.error(), "the record");
  v.signatures_hold = true;
  v.record = std::move(recorded->record);
  const auto finished = v.record["run"]["finished"].get<std::string>();
  for (const auto& j : {judge(recorded->signature, finished), judge_seal(*sealed, finished)})
    if (j.status != SealStatus::authentic) return say(std::move(v), j.status, j.says);
  return say(std::move(v), SealStatus::authentic, "");
}
}  // namespace hb::sign
