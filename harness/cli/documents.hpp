// Private to harness/cli: keys, and turning a finished record into signed files and a ledger entry.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "app.hpp"
#include "home.hpp"
#include "reports/ledger/ledger.hpp"
#include "reports/record/record.hpp"
#include "reports/sheet/sheet.hpp"
#include "reports/sign/sign.hpp"

namespace hb::cli {

/// The bench's signing key, made on first use; its public half is put among the trusted keys.
[[nodiscard]] Result<sign::SigningKey> bench_key(const Home& home);
/// This bench's trusted keys and those of `extra` (files or folders).
[[nodiscard]] Result<sign::KeyRing> trusted_keys(const Home& home, const std::vector<std::string>& extra);

/// The content of the file of that name, else the text itself; without white space around.
[[nodiscard]] Result<std::string> text_or_file(const std::string& given);

/// How the customer's sheet is to look: --paper and --language of every command that writes one.
struct SheetForm {
  std::string paper = "a4";     ///< a4 or letter
  std::string language = "en";  ///< one of sheet::languages()
  void add_options(CLI::App& sub);
};

struct Documents {
  fs::path folder, html, pdf, record, shop;
  std::string record_jws;
};
/// Signs, keeps the signed record beside the journal, appends it to the ledger, writes the files, then
/// forgets the one beside the journal. The ledger comes before the files: what a customer holds is there.
/// Broken off anywhere, finish() does the rest with the same bytes.
[[nodiscard]] Result<Documents> publish(const Home& home, const record::Record& record,
                                        const SheetForm& form);
/// True when a run is signed, and the ledger's entry or the files may be missing.
[[nodiscard]] bool has_signed_record(const Home& home, const std::string& run_id);
struct Finished {
  Documents documents;
  nlohmann::json record;
};
/// Needs no phone. Errors: not_found, those of the ledger and of the disk.
[[nodiscard]] Result<Finished> finish(const Home& home, const std::string& run_id, const SheetForm& form);
/// Writes the files of a record that is in the ledger already.
[[nodiscard]] Result<Documents> write_documents(const Home& home, const std::string& record_jws,
                                                const nlohmann::json& record, const SheetForm& form,
                                                fs::path folder);

/// Id of the newest later run of the same job and kind, or empty.
[[nodiscard]] Result<std::string> newer_run(const Home& home, const std::string& job, const std::string& run);
}  // namespace hb::cli
