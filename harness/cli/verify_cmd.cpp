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
  std::string status = "altered";  ///< authentic, altered, unknown key, superseded
  std::string kind = "document";   ///< sheet (HTML), sheet (PDF), record, summary
  std::string says;
  json record;
  std::string kid, label;
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
  return a;
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
    a.status = v->signature.known ? "authentic" : "unknown key";
    a.kid = v->signature.kid;
    a.label = v->signature.label;
    const auto& s = v->summary;
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
  a.status = v->signature.known ? "authentic" : "unknown key";
  a.kid = v->signature.kid;
  a.label = v->signature.label;
  a.record = v->record;
  return a;
}

/// A later run of the same job and kind in this bench's ledger.
void look_for_newer(Answer& a, const Home& home) {
  if (a.status != "authentic" || !fs::exists(home.ledger())) return;
  const std::string run = a.record.is_object() ? a.record["run"].value("id", "") : a.extra.value("run", "");
  const std::string job = a.record.is_object() ? a.record["job"].value("id", "") : a.extra.value("job", "");
  if (const auto newer = newer_run(home, job, run); newer && !newer->empty()) {
    a.status = "superseded";
    a.says = fmt::format("a later run of this job is in the ledger: {}", *newer);
  }
}

int verify(const App& app, const std::string& file, const std::string& text,
           const std::vector<std::string>& keys) {
  auto ring = trusted_keys(app.home(), keys);
  if (!ring) return report(app, ring.error());
  Answer a;
  if (!text.empty()) {
    a = from_jws(trim(text), *ring);
  } else {
    auto bytes = document_given(file);
    if (!bytes) return report(app, bytes.error());
    if (bytes->substr(0, 5) == "%PDF-" || bytes->find(sign::kSealMarker) != std::string::npos)
      a = from_sealed(*bytes, *ring);
    else
      a = from_jws(*bytes, *ring);
  }
  look_for_newer(a, app.home());
  if (app.json) {
    json out = {
        {"status", a.status}, {"kind", a.kind}, {"says", a.says}, {"key_id", a.kid}, {"key_label", a.label}};
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
    if (a.record.is_object())
      fmt::print("  {} · job {} · {} · finished {} · result: {}\n", a.record["phone"].value("model", ""),
                 a.record["job"].value("id", ""), a.record["run"].value("kind", ""),
                 a.record["run"].value("finished", ""), a.record.value("outcome", ""));
    for (const auto& [k, v] : a.extra.items()) fmt::print("  {}: {}\n", k, v.get<std::string>());
    if (a.status == "unknown key")
      fmt::print("  Ask the shop for its public key and give it with --key FILE.\n");
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
  auto keys = std::make_shared<std::vector<std::string>>();
  auto* f = sub->add_option("FILE", *file,
                            "sheet (.html, .pdf), record (.jws), QR text, or a photo of the QR code "
                            "(.png, .jpeg); - reads standard input");
  auto* t = sub->add_option("--text", *text, "the text of the sheet's QR code");
  f->excludes(t);
  sub->add_option("--key", *keys,
                  "public key (JWK file) or folder of keys to trust, besides this bench's own");
  sub->footer("Works offline. Exit codes: 0 authentic, 1 altered or unknown key, 2 error, 3 superseded.");
  sub->callback([&app, &action, file, text, keys, sub] {
    if (file->empty() && text->empty()) throw CLI::RequiredError("FILE or --text");
    (void)sub;
    action = [&app, file, text, keys] { return verify(app, *file, *text, *keys); };
  });
}
}  // namespace hb::cli
