#include <fmt/format.h>

#include <algorithm>

#include "app.hpp"
#include "document_check.hpp"
#include "documents.hpp"
#include "given.hpp"
#include "harness/base/text.hpp"
#include "reports/ledger/ledger.hpp"
#include "revocations.hpp"
#include "version.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

constexpr const char* kExplain =
    R"(What an authentic sheet proves
  - The key that you trust (a bench's own, or one that the shop's root vouches for) signed exactly these bytes. Not one
    of them was changed since.
  - The record inside is what that bench's program was told: by the phone over its debug link, by the page in the
    phone's browser, and by the person who moved the phone and looked at it.

What it does not prove
  - That the phone told the truth. A phone whose software was changed can say anything over its link, and the program
    takes what it says for what it measures.
  - That it is the phone before you. Compare model, colour and the last characters of the serial number.
  - What a person saw or did: the marks that were counted, whether a cover was on. That is the technician's word.
  - The dates. They are the word of whoever signed. The order of the shop's ledger, and a head of it that was kept
    elsewhere, are what show that a run was not dated back.
  - That nothing happened to the phone afterwards; that it is safe, or keeps water out. No sheet certifies that.
  - That the key was not revoked, unless the shop's newest revocation list is here (--revoked FILE), and that no later
    run replaces this one, unless the shop's ledger is here.
  - Of a code that was photographed: the page around it. Compare job, phone and result with the paper.

The four answers
  authentic (exit code 0)                 the signature holds, and the key counts
  altered (1)                             the file is one of ours, and its bytes or its signature do not fit, or its
                                          page says something else than the signed record inside
  superseded or withdrawn (3)             a later run replaces it; the shop withdrew it, or the word of its key
  cannot tell (5)                         neither: not a sheet, not readable, saved again by another program, a key
                                          that is not known here, a revocation list that is missing or damaged. It is
                                          no suspicion against whoever brought it
Exit code 2 is an error: no such file, a wrong option.
)";

/// A date is the signer's own word. When a key of this document was revoked later, the ledger's order is what
/// tells a run of the shop from one that a thief dated back.
void look_for_order(DocumentCheck& a, const Home& home) {
  if (a.answer() != Answer::authentic || a.revoked_utc.empty()) return;
  a.says = "the key was revoked later, from " + a.revoked_utc +
           " on. A thief could have written an earlier date: ask the shop whether its ledger holds this run";
  auto ledger = ledger::Ledger::read(home.ledger());
  if (!ledger) return;
  const std::string run = a.record.is_object() ? a.record["run"].value("id", "") : a.summary.value("run", "");
  const std::string signer = a.record.is_object() ? a.record["bench"].value("key_id", "") : a.kid;
  std::int64_t found = 0, of_this_key = 0;
  const auto read = ledger->each([&](const ledger::Entry& e) -> Result<void> {
    if (e.kind != "run" || e.content["bench"].value("key_id", "") != signer) return {};
    ++of_this_key;
    if (e.content["run"].value("id", "") == run &&
        (a.record_jws.empty() || e.jws() == sign::jws_of(a.record_jws)))
      found = e.seq;
    return {};
  });
  if (!read) {
    a.says += " (the ledger here cannot be read: " + read.error().what + ")";
  } else if (found != 0) {
    a.says = fmt::format("the key was revoked later, from {} on; this run is entry {} of the ledger here",
                         a.revoked_utc, found);
  } else if (of_this_key != 0) {
    a.why = Why::key_revoked;
    a.says = fmt::format(
        "dated before the key was revoked (from {} on), but the ledger here, which holds {} other runs of "
        "that key, does not hold this one",
        a.revoked_utc, of_this_key);
  }
}

/// The shop's own word, in this bench's ledger, that the run or its job should not have been written.
void look_for_withdrawal(DocumentCheck& a, const Home& home, const sign::KeyRing& ring) {
  if (a.answer() != Answer::authentic) return;
  const std::string run = a.record.is_object() ? a.record["run"].value("id", "") : a.summary.value("run", "");
  const auto ledger = ledger::Ledger::read(home.ledger());
  if (!ledger) return;
  const auto gone = ledger->withdrawn(run, &ring);
  if (!gone)
    a.says +=
        (a.says.empty() ? "" : "; ") + ("whether the shop withdrew it is not known: " + gone.error().what);
  if (!gone || !*gone) return;
  a.why = Why::withdrawn;
  a.says = fmt::format("the shop withdrew {} at {}: {}", (*gone)->of_job ? "its job" : "this run",
                       (*gone)->at_utc, (*gone)->reason);
}

/// A later run of the same job and kind in this bench's ledger.
void look_for_newer(DocumentCheck& a, const Home& home) {
  if (a.answer() != Answer::authentic) return;
  const std::string run = a.record.is_object() ? a.record["run"].value("id", "") : a.summary.value("run", "");
  const std::string job = a.record.is_object() ? a.record["job"].value("id", "") : a.summary.value("job", "");
  const auto newer = newer_run(home, job, run);
  if (!newer && newer.error().code != ErrorCode::not_found)
    a.says += (a.says.empty() ? "" : "; ") +
              ("whether a later run replaces it is not known: " + newer.error().what);
  if (!newer || newer->empty()) return;
  a.why = Why::later_run;
  a.says = fmt::format("a later run of this job is in the ledger: {}", *newer);
}

/// Whether the root of this list vouches for the document's keys, or for another root that may.
bool concerns(const ListTrouble& trouble, const DocumentCheck& a, const sign::Vouching& v) {
  if (trouble.root_id.empty()) return true;
  const std::string signer = a.record.is_object() ? a.record["bench"].value("key_id", "") : a.kid;
  for (const auto& root : v.roots) {
    if (root.thumbprint() != trouble.root_id) continue;
    for (const auto& t : v.certificates)
      if (const auto c = sign::read_certificate(t, root))
        if (const auto id = c->key.thumbprint();
            c->kind == sign::Certificate::Kind::root || id == a.kid || id == signer)
          return true;
  }
  return false;
}

Result<void> look_for_lists(DocumentCheck& a, const Home& home, const TrustFiles& trust,
                            std::string_view bytes) {
  if (a.answer() != Answer::authentic) return {};
  const auto troubles = list_troubles(home, trust);
  if (!troubles) return troubles.error();
  auto v = gather_trust(home, trust);
  if (!v) return v.error();
  for (auto& c : sign::certificates_in(bytes)) v->certificates.push_back(std::move(c));
  for (const auto& t : *troubles) {
    if (!concerns(t, a, *v)) continue;
    a.why = t.missing ? Why::list_missing : Why::list_damaged;
    a.says = t.says;
    a.next = t.next;
  }
  return {};
}

void print(const App& app, const DocumentCheck& a) {
  const auto& r = reason(a.why);
  const std::string says = a.says.empty() ? r.says : a.says, next = a.next.empty() ? r.next : a.next;
  if (app.json) {
    json out = {{"answer", name(r.answer)}, {"why", r.code},        {"status", r.status},
                {"kind", a.kind},           {"says", says},         {"next", next},
                {"key_id", a.kid},          {"key_label", a.label}, {"root", a.root_id},
                {"revoked", a.revoked_utc}};
    if (a.record.is_object()) out["record"] = a.record;
    if (a.summary.is_object()) out["summary"] = a.summary;
    fmt::print("{}\n", out.dump(2));
    return;
  }
  fmt::print("{}: {}\n", heading(r.answer), a.kind);
  if (!says.empty()) fmt::print("  {}\n", says);
  if (!a.kid.empty()) fmt::print("  key {}{}\n", a.kid, a.label.empty() ? "" : " (" + a.label + ")");
  if (!a.root_id.empty()) fmt::print("  certified by root {}\n", a.root_id);
  if (a.record.is_object())
    fmt::print("  {} · job {} · {} · finished {} · result: {}\n", a.record["phone"].value("model", ""),
               a.record["job"].value("id", ""), a.record["run"].value("kind", ""),
               a.record["run"].value("finished", ""), a.record.value("outcome", ""));
  if (a.summary.is_object())
    for (const auto& [k, v] : a.summary.items()) fmt::print("  {}: {}\n", k, v.get<std::string>());
  if (!next.empty()) fmt::print("  → {}\n", next);
}

int verify(const App& app, const std::string& file, const std::string& text, const TrustFiles& trust) {
  const Result<std::string> bytes = text.empty() ? document_given(file) : std::string(trim(text));
  DocumentCheck a;
  if (!bytes && bytes.error().code == ErrorCode::bad_format) {
    a.why = Why::too_large;
  } else if (!bytes) {
    return report(app, bytes.error());
  } else {
    const auto ring = ring_for(app.home(), trust, *bytes);
    if (!ring) return report(app, ring.error());
    a = text.empty() ? check_document(*bytes, *ring, kSoftware) : check_text(*bytes, *ring);
    look_for_order(a, app.home());
    if (auto r = look_for_lists(a, app.home(), trust, *bytes); !r) return report(app, r.error());
    look_for_withdrawal(a, app.home(), *ring);
    look_for_newer(a, app.home());
  }
  print(app, a);
  return exit_code(a.answer());
}

int explain(const App& app) {
  if (app.json)
    fmt::print("{}\n", json{{"explain", kExplain}}.dump(2));
  else
    fmt::print("{}", kExplain);
  return kPass;
}
}  // namespace

void add_verify(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand(
      "verify",
      "tell whether a sheet, record or code is authentic, altered, or superseded or withdrawn, or that this "
      "cannot be told");
  auto file = std::make_shared<std::string>();
  auto text = std::make_shared<std::string>();
  auto explains = std::make_shared<bool>(false);
  auto trust = std::make_shared<TrustFiles>();
  auto* f =
      sub->add_option("FILE", *file,
                      "sheet (.html, .pdf), record (.jws), the code's text, or a picture or scan of the code "
                      "(.png, .jpeg, .webp, .tiff, .bmp, .gif, .pdf); - reads standard input");
  auto* t = sub->add_option("--text", *text, "the text of the sheet's QR code");
  f->excludes(t);
  // One value each, so that a file behind them is not taken for another; to give several, repeat the option.
  const auto files = [&](const char* name, std::vector<std::string>& into, const char* help) {
    sub->add_option(name, into, help)->allow_extra_args(false)->type_name("FILE");
  };
  files("--root", trust->roots,
        "public key of a shop's root (JWK file); may be repeated, like the next three");
  files("--certificate", trust->certificates,
        "certificates that do not travel in the document (certificates.jwt)");
  files("--revoked", trust->lists, "the shop's revocation list");
  files("--key", trust->keys, "public key (JWK file) or folder of keys to trust, besides this bench's own");
  sub->add_flag("--explain", *explains, "what a sheet proves, and what not");
  sub->footer(
      "Works offline. Exit codes: 0 authentic, 1 altered, 2 error, 3 superseded or withdrawn (also: the key "
      "was "
      "revoked),\n5 cannot tell (not a sheet, not readable, saved again by another program, key not known, "
      "revocation "
      "list missing or\ndamaged).");
  sub->callback([&app, &action, file, text, trust, explains] {
    if (*explains) {
      action = [&app] { return explain(app); };
      return;
    }
    if (file->empty() && text->empty()) throw CLI::RequiredError("FILE or --text");
    action = [&app, file, text, trust] { return verify(app, *file, *text, *trust); };
  });
}
}  // namespace hb::cli
