/// One run of a checklist on one phone: order, progress, pause and resume, safety stops, the journal.
///
/// A cable pulled at any moment pauses the run: it says so, keeps what it measured, waits for the same phone
/// (by its keyed tag) and does the interrupted checks again. Checks that share no resource run side by side.
/// Waiting too long, or the technician's cancel, ends the run as paused; the journal resumes it later.
/// Threads: everything on the executor that run_checklist is spawned on.
#pragma once

#include <filesystem>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "checks/check.hpp"
#include "harness/link/link.hpp"
#include "harness/net/clock.hpp"
#include "harness/run/overlap.hpp"
#include "profiles/profiles.hpp"
#include "reports/record/record.hpp"

namespace hb::page {
class FrameRoom;
}

namespace hb::run {

/// What the person at the bench sees. Several checks may be under way. All calls come from the run's strand.
class View {
 public:
  virtual ~View() = default;
  virtual void connecting() = 0;
  virtual void owner_must_allow() = 0;  ///< the phone shows its dialog
  virtual void connected(std::string_view tail, Term link) = 0;
  virtual void check_starts(const checks::CheckInfo& info, std::size_t number, std::size_t of) = 0;
  virtual void check_ends(const checks::CheckResult& result, bool from_journal) = 0;
  /// Progress of one that is under way: see checks::Progress.
  virtual void step(const checks::CheckInfo& info, double fraction, Term doing) = 0;
  virtual void cell(const checks::CheckInfo& /*info*/, int /*col*/, int /*row*/, int /*cols*/, int /*rows*/) {
  }
  virtual void paused(Term why, std::chrono::seconds waiting) = 0;
  virtual void back() = 0;
  virtual void safety_stop(std::string_view what, std::string_view next) = 0;
};

struct Setup {
  using Connect = std::function<net::awaitable<Result<std::unique_ptr<link::Transport>>>()>;
  Setup(Connect dial, link::BenchRsaKey link_key, Bytes tag_key, profiles::Profile model)
      : connect(std::move(dial)),
        key(std::move(link_key)),
        shop_key(std::move(tag_key)),
        profile(std::move(model)) {}

  /// Dials the phone; called again after a lost link.
  Connect connect;
  link::BenchRsaKey key;
  Bytes shop_key;  ///< HMAC key of the phone tags
  profiles::Profile profile;
  record::RunKind kind = record::RunKind::release;
  record::Job job;
  record::Bench bench;
  std::string software;
  std::shared_ptr<checks::Operator> op;  ///< whoever moves the phone
  std::shared_ptr<net::Clock> clock;
  std::filesystem::path journal;  ///< made, or reopened when `resume`
  bool resume = false;
  /// Whether this phone may have this run; asked when it is met for the first time. Empty: any.
  std::function<Result<void>(const std::string& tag, const std::string& tail)> accept;
  Term other_phone;                               ///< see record::Record
  std::optional<record::Follows> follows;         ///< see record::Record
  std::map<std::string, nlohmann::json> carried;  ///< check id -> as an earlier record tells it: not taken
  std::set<std::string> set_aside;                ///< stale results that this run does not take again
  nlohmann::json remember = nlohmann::json::object();  ///< more members of a new journal's header
  bool use_page = true;
  bool overlap = true;  ///< checks that share no resource run side by side; false: one after another
  std::shared_ptr<page::FrameRoom> room;     ///< shared by the phones of one process; empty: no bound
  std::map<std::string, Term> waived;        ///< check id -> reason
  std::set<std::string> retest;              ///< these checks again; the others from the journal
  std::chrono::seconds wait_for_phone{600};  ///< wall time
};

struct Ended {
  /// Complete record, or nullopt when the run is paused.
  std::optional<record::Record> record;
  std::optional<Error> why;  ///< of a pause
  BenchTimes times;          ///< of all sessions; of a complete run
};

/// Errors (nothing was measured, or the journal cannot be kept): not_found, unauthorised, refused,
/// unsupported (the phone is not the profile's model), refused (another phone; resuming: another job, kind or
/// profile; `accept`), io.
[[nodiscard]] net::awaitable<Result<Ended>> run_checklist(Setup setup, View& view);

/// Judges a journal again. Pure apart from reading the file; gives the same results bit for bit.
[[nodiscard]] Result<std::vector<checks::CheckResult>> replay(const std::filesystem::path& journal,
                                                              const profiles::Profile& profile);
}  // namespace hb::run
