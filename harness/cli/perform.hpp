// Private to harness/cli: one run from the wire to the signed sheet; shared by `run` and `demo`.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>

#include "app.hpp"
#include "device.hpp"
#include "documents.hpp"
#include "harness/run/overlap.hpp"
#include "profiles/profiles.hpp"
#include "reports/record/words.hpp"

namespace hb::cli {

struct RunArgs {
  std::string device;                   ///< see dialler()
  std::string profile;                  ///< file; empty: the one that fits the phone, or the resumed run's
  std::string job;                      ///< empty: the only open one, or the resumed run's
  std::optional<record::RunKind> kind;  ///< empty: release, or the resumed run's
  std::string fixture;                  ///< tcp:HOST:PORT; empty: prompts on the terminal
  std::string resume;                   ///< run id
  std::set<std::string> retest;
  std::vector<std::string> only, opened;              ///< see Wish
  const record::Word* other_phone = nullptr;          ///< of other_phone_reasons()
  std::map<std::string, const record::Word*> waived;  ///< check -> of waiver_reasons()
  bool use_page = true;
  bool overlap = true;
  SheetForm form;
  std::optional<double> cure_hours;  ///< in place of the job's
  int wait_for_phone_s = 600;
  std::string again;  ///< what to type after a break, in place of resuming: the demo's phone ends with it
};

struct Performed {
  int code = kUsage;
  std::optional<Documents> documents;
  nlohmann::json record;
  run::BenchTimes times;
  bool again = false;  ///< the run was finished before: only its files were written anew
  std::string run, why_paused, resume_command;  ///< of a pause
};

[[nodiscard]] net::awaitable<Result<Performed>> perform(const App& app, Home home, RunArgs args);

/// "CHECK:REASON" -> both. invalid_argument naming the reasons.
[[nodiscard]] Result<std::map<std::string, const record::Word*>> parse_waivers(
    const std::vector<std::string>& texts);

/// Whether the text has a run number's form: it becomes a file's name.
[[nodiscard]] bool is_run_id(const std::string& text);

/// " --home DIR --ledger PLACE ..." as they were given, quoted for a shell, for commands that are suggested.
[[nodiscard]] std::string where_options(const App& app);

/// Prints how a run ended; the JSON form too.
void show_end(const App& app, const Performed& p);
}  // namespace hb::cli
