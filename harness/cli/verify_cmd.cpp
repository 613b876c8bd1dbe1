#include <fmt/format.h>

#include "app.hpp"
#include "documents.hpp"
#include "given.hpp"
#include "harness/base/text.hpp"
#include "reports/ledger/ledger.hpp"
#include "reports/sheet/sheet.hpp"
#include "reports/sign/seal.hpp"
#include "reports/sign/summary.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

struct Answer {
  std::string status = "altered";  ///< authentic, altered, unknown key, revoked key, superseded
  std::string kind = "document";   ///< sheet (HTML), sheet (PDF), record, summary
  std::string says;
  json record;
  std::string kid, label, root_id, revoked_utc;
  std::string record_jws;  ///< of a sheet or a record
  json extra = json::object();
};

Answer from_sealed(std::string_view bytes, const sign::KeyRing& ring) {
  Answer a;
  const bool pdf = bytes.substr(0, 5) == "%PDF-";
  a.kind = pdf ? "sheet (PDF)" : "sheet (HTML)";
  std::string record_jws;
  if (pdf) {
    auto r = sheet::attached_record(bytes);
    if (!r) {
      a.says = "the signed record inside the PDF is missing or damaged";
      return a;
    }
    record_jws = *r;
  }
  const auto v = sign::verify_sealed(bytes, ring, record_jws);
  a.status = sign::name(v.status).str();
  a.says = v.says;
  a.record = v.record;
  a.kid = v.kid;
  a.label = v.label;
  a.root_id = v.root_id;
  a.revoked_utc = v.revoked_utc;
  a.record_jws = v.record_jws;
  return a;
}

void from_signature(Answer& a, const sign::Verified& v, std::string_view finished_utc) {
  auto j = sign::judge(v, finished_utc);
  a.status = sign::name(j.status).str();
  a.says = std::move(j.says);
  a.kid = v.kid;
  a.label = v.label;
  a.root_id = v.entry.root_id;
  a.revoked_utc = v.revoked_utc;
}

void from_error(Answer& a, const Error& e) {
  a.status = e.code == ErrorCode::unknown_key ? "unknown key" : "altered";
  a.says = e.what;
}

/// A QR text was perhaps wrapped by a mail or ended by a line break: white space is no part of it. A record
/// is its bytes and nothing else.
Answer from_jws(std::string_view text, const sign::KeyRing& ring) {
  Answer a;
  std::string compact(text);
  std::erase_if(compact, [](unsigned char c) { return std::isspace(c) != 0; });
  const auto payload = sign::peek(compact);
  if (payload && payload->is_object() && payload->contains("v")) {
    a.kind = "summary (QR code)";
    auto v = sign::verify_summary(compact, ring);
    if (!v) return from_error(a, v.error()), a;
    const auto& s = v->summary;
    from_signature(a, v->signature, s.finished_utc);
    a.extra = {{"job", s.job_id},
               {"run", s.run_id},
               {"outcome", s.outcome},
               {"finished", s.finished_utc},
               {"phone_tail", s.phone_tail}};
    return a;
  }
  a.kind = "record";
  auto v = sign::verify_record(text, ring);
  if (!v) return from_error(a, v.error()), a;
  from_signature(a, v->signature, v->record["run"]["finished"].get<std::string>());
  a.record = v->record;
  a.record_jws = std::string(text);
  return a;
}

/// A date is the signer's own word. When a key of this document was revoked later, the ledger's order is what
/// tells a run of the shop from one that a thief dated back.
void look_for_order(Answer& a, const Home& home) {
  if (a.status != "authentic" || a.revoked_utc.empty()) return;
  a.says = "the key was revoked later, from " + a.revoked_utc +
           " on. A thief could have written an earlier date: ask the shop whether its ledger holds this run";
  auto ledger = ledger::Ledger::read(home.ledger());
  if (!ledger) return;
  const std::string run = a.record.is_object() ? a.record["run"].value("id", "") : a.extra.value("run", "");
  const std::string signer = a.record.is_object() ? a.record["bench"].value("key_id", "") : a.kid;
  std::int64_t found = 0, of_this_key = 0;
  const auto read = ledger->each([&](const ledger::Entry& e) -> Result<void> {
    if (e.kind != "run" || e.content["bench"].value("key_id", "") != signer) return {};
    ++of_this_key;
    if (e.content["run"].value("id", "") == run && (a.record_jws.empty() || e.payload == a.record_jws))
      found = e.seq;
    return {};
  });
  if (!read) {
    a.says += " (the ledger here cannot be read: " + read.error().what + ")";
  } else if (found != 0) {
    a.says = fmt::format("the key was revoked later, from {} on; this run is entry {} of the ledger here",
                         a.revoked_utc, found);
  } else if (of_this_key != 0) {
    a.status = "revoked key";
    a.says = fmt::format(
        "dated before the key was revoked (from {} on), but the ledger here, which holds {} other runs of "
        "that key, does not hold this one",
        a.revoked_utc, of_this_key);
  }
}

/// A later run of the same job and kind in this bench's ledger.
void look_for_newer(Answer& a, const Home& home) {
  if (a.status != "authentic") return;
  const std::string run = a.record.is_object() ? a.record["run"].value("id", "") : a.extra.value("run", "");
  const std::string job = a.record.is_object() ? a.record["job"].value("id", "") : a.extra.value("job", "");
  const auto newer = newer_run(home, job, run);
  if (!newer && newer.error().code != ErrorCode::not_found)
    a.says += (a.says.empty() ? "" : "; ") +
              ("whether a later run replaces it is not known: " + newer.error().what);
  if (!newer || newer->empty()) return;
  a.status = "superseded";
  a.says = fmt::format("a later run of this job is in the ledger: {}", *newer);
}

int verify(const App& app, const std::string& file, const std::string& text, const TrustFiles& trust) {
  Result<std::string> bytes = text.empty() ? document_given(file) : std::string();
  if (!bytes) return report(app, bytes.error());
  auto ring = ring_for(app.home(), trust, *bytes);
  if (!ring) return report(app, ring.error());
  Answer a;
  if (!text.empty()) {
    a = from_jws(trim(text), *ring);
  } else {
    if (bytes->substr(0, 5) == "%PDF-" || bytes->find(sign::kSealMarker) != std::string::npos)
      a = from_sealed(*bytes, *ring);
    else
      a = from_jws(*bytes, *ring);
  }
  look_for_order(a, app.home());
  look_for_newer(a, app.home());
  if (app.json) {
    json out = {{"status", a.status},   {"kind", a.kind},    {"says", a.says},          {"key_id", a.kid},
                {"key_label", a.label}, {"root", a.root_id}, {"revoked", a.revoked_utc}};
    if (a.record.is_object()) out["record"] = a.record;
    if (!a.extra.empty()) out["summary"] = a.extra;
    fmt::print("{}\n", out.dump(2));
  } else {
    const bool good = a.status == "authentic";
    std::string upper = a.status;
    for (auto& c : upper) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    fmt::print("{} {}: {}\n", good ? "✓" : "✗", upper, a.kind);
    if (!a.says.empty()) fmt::print("  {}\n", a.says);
    if (!a.kid.empty()) fmt::print("  key {}{}\n", a.kid, a.label.empty() ? "" : " (" + a.label + ")");
    if (!a.root_id.empty()) fmt::print("  certified by root {}\n", a.root_id);
    if (a.record.is_object())
      fmt::print("  {} · job {} · {} · finished {} · result: {}\n", a.record["phone"].value("model", ""),
                 a.record["job"].value("id", ""), a.record["run"].value("kind", ""),
                 a.record["run"].value("finished", ""), a.record.value("outcome", ""));
    for (const auto& [k, v] : a.extra.items()) fmt::print("  {}: {}\n", k, v.get<std::string>());
    if (a.status == "unknown key")
      fmt::print(
          "  Ask the shop for its public key and give it with --root FILE (or --key FILE for a bench's "
          "own).\n");
  }
  if (a.status == "authentic") return kPass;
  return a.status == "superseded" ? kIncomplete : kFail;
}
}  // namespace

void add_verify(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand(
      "verify",
      "tell whether a sheet, record or QR text is authentic, altered, of an unknown key, or superseded");
  auto file = std::make_shared<std::string>();
  auto text = std::make_shared<std::string>();
  auto trust = std::make_shared<TrustFiles>();
  auto* f = sub->add_option("FILE", *file,
                            "sheet (.html, .pdf), record (.jws), QR text, or a photo of the QR code "
                            "(.png, .jpeg); - reads standard input");
  auto* t = sub->add_option("--text", *text, "the text of the sheet's QR code");
  f->excludes(t);
  sub->add_option("--root", trust->roots, "public key of a shop's root (JWK file)");
  sub->add_option("--certificate", trust->certificates,
                  "certificates that do not travel in the document (certificates.jwt)");
  sub->add_option("--revoked", trust->lists, "the shop's revocation list");
  sub->add_option("--key", trust->keys,
                  "public key (JWK file) or folder of keys to trust, besides this bench's own");
  sub->footer(
      "Works offline. Exit codes: 0 authentic, 1 altered, unknown or revoked key, 2 error, 3 superseded.");
  sub->callback([&app, &action, file, text, trust, sub] {
    if (file->empty() && text->empty()) throw CLI::RequiredError("FILE or --text");
    (void)sub;
    action = [&app, file, text, trust] { return verify(app, *file, *text, *trust); };
  });
}
}  // namespace hb::cli
