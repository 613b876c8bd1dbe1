#include "documents.hpp"

#include "harness/base/text.hpp"
#include "keys.hpp"
#include "reports/sign/certificate.hpp"
#include "reports/sign/seal.hpp"
#include "reports/sign/summary.hpp"

namespace hb::cli {

void add_cure_hours(CLI::App& sub, std::optional<double>& into) {
  sub.add_option("--cure-hours", into,
                 "hours that the fresh adhesive needs to cure, for the sheet (with --resume: give it again)")
      ->check(CLI::Range(record::kCureHours.first, record::kCureHours.second));
}

void SheetForm::add_options(CLI::App& sub) {
  sub.add_option("--paper", paper, "paper of the PDF: a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}))
      ->capture_default_str();
  sub.add_option("--language", language, "language of the customer's sheet")
      ->check(CLI::IsMember(sheet::languages()))
      ->capture_default_str();
}

Result<sign::SigningKey> bench_key(const Home& home) {
  auto& access = home.keys();
  const bool own = access.key_file.empty();
  if (own && !fs::exists(home.signing_key())) {
    const auto key = sign::SigningKey::make();
    if (auto s = key.save(home.signing_key()); !s) return s.error();
  }
  auto key = access.open(own ? home.signing_key() : fs::path(access.key_file));
  if (!key) return key;
  const auto pub = home.trusted() / (key->key_id() + ".jwk");
  if (!fs::exists(pub))
    if (auto w = write_file(pub, key->public_key().jwk()); !w) return w.error();
  return key;
}

Result<sign::KeyRing> trusted_keys(const Home& home, const std::vector<std::string>& extra) {
  sign::KeyRing ring;
  if (fs::is_directory(home.trusted())) {
    auto own = sign::KeyRing::load(home.trusted());
    if (!own) return own;
    ring = std::move(*own);
  }
  for (const auto& e : extra) {
    std::vector<fs::path> files;
    if (fs::is_directory(e)) {
      std::error_code ec;
      for (fs::directory_iterator it(e, ec), end; !ec && it != end; it.increment(ec))
        if (it->path().extension() == ".jwk") files.push_back(it->path());
    } else {
      files.emplace_back(e);
    }
    for (const auto& f : files) {
      auto key = read_public_key(f);
      if (!key) return key.error();
      ring.add(*key, f.filename().string());
    }
  }
  return ring;
}

Result<std::string> text_or_file(const std::string& given) {
  std::error_code ec;
  if (given.empty() || !fs::exists(given, ec)) return std::string(trim(given));
  auto text = read_file(given, 1u << 20);
  if (!text) return text;
  return std::string(trim(*text));
}

Result<Documents> write_documents(const Home& home, const std::string& record_jws,
                                  const nlohmann::json& record, const SheetForm& form, fs::path folder) {
  auto key = bench_key(home);
  if (!key) return key.error();
  auto summary = sign::make_summary(record_jws, *key);
  if (!summary) return summary.error();
  const auto certificates =
      certificates_of(home, {key->key_id(), record["bench"].value("key_id", std::string())});
  if (!certificates) return certificates.error();
  sheet::SheetInputs inputs;
  inputs.record_jws = record_jws;
  inputs.seal_slot = sign::empty_seal_slot();
  inputs.qr_text = *summary;
  inputs.paper = form.paper == "letter" ? sheet::Paper::letter : sheet::Paper::a4;
  inputs.key_jwk = key->public_key().jwk();
  inputs.language = form.language;
  inputs.certificates = sign::certificate_slot(*certificates);
  auto html = sheet::customer_html(record, inputs);
  if (!html) return html.error();
  auto pdf = sheet::customer_pdf(record, inputs);
  if (!pdf) return pdf.error();
  auto shop = sheet::shop_html(record);
  if (!shop) return shop.error();
  auto sealed_html = sign::seal(std::move(*html), sign::FileKind::html, record_jws, *key);
  if (!sealed_html) return sealed_html.error();
  auto sealed_pdf = sign::seal(std::move(*pdf), sign::FileKind::pdf, record_jws, *key);
  if (!sealed_pdf) return sealed_pdf.error();

  std::error_code ec;
  fs::create_directories(folder, ec);
  if (ec)
    return Error{ErrorCode::io, "cannot make the folder for the sheet: " + ec.message(), folder.string(),
                 "Choose another with --out."};
  Documents d{folder,
              folder / "sheet.html",
              folder / "sheet.pdf",
              folder / "record.jws",
              folder / "shop-record.html",
              record_jws};
  for (const auto& [file, content] : {std::pair<fs::path, const std::string*>{d.record, &record_jws},
                                      {d.html, &*sealed_html},
                                      {d.pdf, &*sealed_pdf},
                                      {d.shop, &*shop}})
    if (auto w = write_file(file, *content); !w) return w.error();
  if (!certificates->empty()) {
    std::string lines;
    for (const auto& c : *certificates) lines += c + "\n";
    if (auto w = write_file(folder / "certificates.jwt", lines); !w) return w.error();
  }
  return d;
}

namespace {
fs::path beside_journal(const Home& home, const std::string& run_id) {
  return home.runs() / (run_id + ".jws");
}

/// A repeated append of the same bytes gives the first receipt, and the files are written over.
Result<Finished> complete(const Home& home, ledger::Ledger& ledger, const std::string& run_id,
                          const std::string& jws, const SheetForm& form) {
  if (auto kept = ledger.append_run(jws); !kept) return kept.error();
  auto entry = ledger.find(run_id);
  if (!entry) return entry.error();
  auto documents = write_documents(home, entry->payload, entry->content, form, home.sheets() / run_id);
  if (!documents) return documents.error();
  std::error_code ec;
  fs::remove(beside_journal(home, run_id), ec);  // if it stays, the same is done once more
  return Finished{std::move(*documents), std::move(entry->content)};
}
}  // namespace

Result<Documents> publish(const Home& home, const record::Record& record, const SheetForm& form) {
  auto key = bench_key(home);
  if (!key) return key.error();
  auto ledger = ledger::Ledger::open(home.ledger(), *key);
  if (!ledger) return ledger.error();
  auto jws = ledger->sign_record(record::to_json(record));
  if (!jws) return jws.error();
  if (auto w = write_file(beside_journal(home, record.run_id), *jws); !w) return w.error();
  auto done = complete(home, *ledger, record.run_id, *jws, form);
  if (!done) return done.error();
  return std::move(done->documents);
}

bool has_signed_record(const Home& home, const std::string& run_id) {
  std::error_code ec;
  return fs::is_regular_file(beside_journal(home, run_id), ec);
}

Result<Finished> finish(const Home& home, const std::string& run_id, const SheetForm& form) {
  auto jws = read_file(beside_journal(home, run_id));
  if (!jws) return jws.error();
  auto key = bench_key(home);
  if (!key) return key.error();
  auto ledger = ledger::Ledger::open(home.ledger(), *key);
  if (!ledger) return ledger.error();
  return complete(home, *ledger, run_id, *jws, form);
}

Result<std::string> newer_run(const Home& home, const std::string& /*job*/, const std::string& run) {
  auto ledger = ledger::Ledger::read(home.ledger());
  if (!ledger) return ledger.error();
  const auto ring = ring_for(home, {});
  if (!ring) return ring.error();
  auto newer = ledger->superseded_by(run, &*ring);
  if (!newer) return newer.error();
  return *newer ? (*newer)->content["run"].value("id", std::string("?")) : std::string();
}
}  // namespace hb::cli
