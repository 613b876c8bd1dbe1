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
/// Signs, appends to the ledger, then writes the files. The ledger comes first: what a customer holds is
/// there.
[[nodiscard]] Result<Documents> publish(const Home& home, const record::Record& record,
                                        const SheetForm& form);
/// Writes the files of a record that is in the ledger already.
[[nodiscard]] Result<Documents> write_documents(const Home& home, const std::string& record_jws,
                                                const nlohmann::json& record, const SheetForm& form,
                                                fs::path folder);

/// Id of the newest later run of the same job and kind, or empty.
[[nodiscard]] Result<std::string> newer_run(const Home& home, const std::string& job, const std::string& run);
}  // namespace hb::cli
