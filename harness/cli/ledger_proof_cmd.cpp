#include <fmt/format.h>

#include "app.hpp"
#include "documents.hpp"
#include "harness/base/text.hpp"
#include "reports/ledger/proof.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

int give(const App& app, const json& proof, const std::string& out, const std::string& what) {
  if (out.empty()) {
    fmt::print("{}\n", proof.dump(2));
    return kPass;
  }
  if (auto w = write_file(out, proof.dump(2) + "\n"); !w) return report(app, w.error());
  if (app.json)
    fmt::print("{}\n", json{{"proof", out}}.dump(2));
  else
    fmt::print(
        "{}: {}\nAnybody with the shop's public key can check it: handback ledger check-proof --key "
        "KEY.jwk {}\n",
        what, out, out);
  return kPass;
}

/// A run's number, or that of a job.
Result<ledger::Entry> named(const ledger::Ledger& ledger, const std::string& id) {
  if (id.rfind("J-", 0) != 0) return ledger.find(id);
  return ledger.job_entry(id);
}

int prove(const App& app, const std::string& id, const std::string& out) {
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  const auto entry = named(*ledger, id);
  if (!entry) return report(app, entry.error());
  const auto proof = ledger->inclusion(entry->seq);
  if (!proof) return report(app, proof.error());
  return give(app, ledger::proof_json(*proof, entry->payload), out,
              fmt::format("Entry {} of {} is proved", proof->seq, proof->head.size));
}

int consistency(const App& app, std::int64_t old_size, const std::string& out) {
  auto ledger = ledger::Ledger::read(app.home().ledger());
  if (!ledger) return report(app, ledger.error());
  const auto proof = ledger->consistency(old_size);
  if (!proof) return report(app, proof.error());
  return give(app, ledger::proof_json(*proof), out,
              fmt::format("The way from {} to {} entries is proved", old_size, proof->head.size));
}

struct CheckArgs {
  std::string file, record, head;
  std::vector<std::string> keys;
};

int check(const App& app, const CheckArgs& args) {
  auto ring = trusted_keys(app.home(), args.keys);
  if (!ring) return report(app, ring.error());
  auto text = read_file(args.file);
  if (!text) return report(app, text.error());
  ledger::Kept kept;
  if (!args.record.empty()) {
    auto record = read_file(args.record);
    if (!record) return report(app, record.error());
    kept.record_jws = trim(*record);
  }
  auto head = text_or_file(args.head);
  if (!head) return report(app, head.error());
  kept.head_jws = std::move(*head);
  auto a = ledger::check_proof(*text, *ring, kept);
  if (!a) {
    auto e = std::move(a).error();
    e.where = args.file + (e.where.empty() ? "" : ", " + e.where);
    return report(app, e);
  }
  if (app.json) {
    json out = {{"holds", a->holds},   {"unknown_key", a->unknown_key},
                {"kind", a->kind},     {"says", a->says},
                {"size", a->size},     {"head_at", a->at_utc},
                {"key_id", a->key_id}, {"key_label", a->key_label}};
    out[a->kind == "inclusion" ? "seq" : "old_size"] = a->kind == "inclusion" ? a->seq : a->old_size;
    if (a->holds && a->kind == "inclusion") out["entry"] = a->content;
    fmt::print("{}\n", out.dump(2));
  } else {
    const char* answer = a->holds ? "HOLDS" : a->unknown_key ? "CANNOT BE TOLD" : "DOES NOT HOLD";
    fmt::print("{} {}: {}\n", a->holds ? "✓" : a->unknown_key ? "?" : "✗", answer, a->says);
    if (a->unknown_key) fmt::print("  Name the shop's public key: --key FILE\n");
    if (!a->key_id.empty())
      fmt::print("  head signed at {} with key {}{}\n", a->at_utc, a->key_id,
                 a->key_label.empty() ? "" : " (" + a->key_label + ")");
  }
  return a->holds ? kPass : kFail;
}
}  // namespace

void add_ledger_proofs(CLI::App& ledger, App& app, Action& action) {
  auto id = std::make_shared<std::string>(), out = std::make_shared<std::string>();
  auto* p =
      ledger.add_subcommand("prove", "proof that a run is in the ledger, for somebody who does not have it");
  p->add_option("RUN", *id, "the run's number, or a job's (J-...)")->required();
  p->add_option("--out", *out, "write the proof to this file");
  p->footer("The proof holds the signed entry itself: give it to whom the sheet was given.");
  p->callback([&app, &action, id, out] { action = [&app, id, out] { return prove(app, *id, *out); }; });

  auto size = std::make_shared<std::int64_t>(0);
  auto* c = ledger.add_subcommand(
      "consistency", "proof that the ledger as it was at a size is the beginning of the ledger now");
  c->add_option("OLD_SIZE", *size, "entries then, as in the older signed head")
      ->required()
      ->check(CLI::PositiveNumber);
  c->add_option("--out", *out, "write the proof to this file");
  c->callback(
      [&app, &action, size, out] { action = [&app, size, out] { return consistency(app, *size, *out); }; });

  auto args = std::make_shared<CheckArgs>();
  auto* k = ledger.add_subcommand("check-proof", "check a proof, offline and without the ledger");
  k->add_option("FILE", args->file, "what `prove` or `consistency` wrote")->required();
  k->add_option("--key", args->keys, "public key (JWK file) or folder to trust, besides this bench's own");
  k->add_option("--record", args->record, "signed record (.jws) that the proof must be of");
  k->add_option("--head", args->head,
                "signed head kept elsewhere (text or file): the proof must be of it, or start from it");
  k->footer("Exit codes: 0 it holds, 1 it does not, 2 error.");
  k->callback([&app, &action, args] { action = [&app, args] { return check(app, *args); }; });
}
}  // namespace hb::cli
