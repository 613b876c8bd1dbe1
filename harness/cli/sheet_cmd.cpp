#include <fmt/format.h>

#include "app.hpp"
#include "documents.hpp"

namespace hb::cli {
namespace {
int sheet_again(const App& app, const std::string& run, const std::string& out, const SheetForm& form) {
  const Home home = app.home();
  auto ledger = ledger::Ledger::read(home.ledger());
  if (!ledger) return report(app, ledger.error());
  auto entry = ledger->find(run);
  if (!entry) return report(app, entry.error());
  const auto gone = ledger->withdrawn(run);
  if (!gone) return report(app, gone.error());
  if (*gone)
    return report(app,
                  Error{ErrorCode::refused,
                        fmt::format("{} was withdrawn at {}: {}", (*gone)->of_job ? "its job" : "the run",
                                    (*gone)->at_utc, (*gone)->reason),
                        run, "No sheet is written of it. Measure again under the right job."});
  auto d = write_documents(home, entry->payload, entry->content, form,
                           out.empty() ? home.sheets() / run : fs::path(out));
  if (!d) return report(app, d.error());
  if (app.json)
    fmt::print("{}\n", nlohmann::json{{"sheet_pdf", d->pdf.string()},
                                      {"sheet_html", d->html.string()},
                                      {"record", d->record.string()},
                                      {"shop_record", d->shop.string()}}
                           .dump(2));
  else
    fmt::print("{}\n{}\n{}\n", d->pdf.string(), d->html.string(), d->shop.string());
  return kPass;
}
}  // namespace

void add_sheet(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("sheet", "write the sheet of a run again from the ledger");
  auto run = std::make_shared<std::string>(), out = std::make_shared<std::string>();
  auto form = std::make_shared<SheetForm>();
  sub->add_option("RUN", *run, "run number (handback run --list)")->required();
  sub->add_option("--out", *out, "folder");
  form->add_options(*sub);
  sub->callback([&app, &action, run, out, form] {
    action = [&app, run, out, form] { return sheet_again(app, *run, *out, *form); };
  });
}
}  // namespace hb::cli
