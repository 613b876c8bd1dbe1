// Private to harness/cli: one run from the wire to the signed sheet; shared by `run` and `demo`.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>

#include "app.hpp"
#include "documents.hpp"
#include "harness/run/overlap.hpp"
#include "profiles/profiles.hpp"

namespace hb::cli {

struct RunArgs {
  std::string device;   ///< tcp:HOST:PORT or usb[:SERIAL]
  std::string profile;  ///< file; empty: the one that fits the phone
  std::string job;      ///< empty: the newest job without a release run
  record::RunKind kind = record::RunKind::release;
  std::string fixture;  ///< tcp:HOST:PORT; empty: prompts on the terminal
  std::string resume;   ///< run id
  std::set<std::string> retest;
  std::map<std::string, Term> waived;
  bool use_page = true;
  bool overlap = true;
  SheetForm form;
  std::optional<double> cure_hours;  ///< in place of the job's
  int wait_for_phone_s = 600;
};

struct Performed {
  int code = kUsage;
  std::optional<Documents> documents;
  nlohmann::json record;
  run::BenchTimes times;
};

[[nodiscard]] net::awaitable<Result<Performed>> perform(const App& app, Home home, RunArgs args);

/// "tcp:HOST:PORT" -> host and port. invalid_argument saying the form.
struct HostPort {
  std::string host;
  std::uint16_t port = 0;
};
[[nodiscard]] Result<HostPort> parse_tcp(const std::string& text, const std::string& option);

/// Prints how a run ended; the JSON form too.
void show_end(const App& app, const Performed& p);
}  // namespace hb::cli
