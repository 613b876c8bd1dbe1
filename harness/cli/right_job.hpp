// Private to harness/cli: which job a run belongs to, which phone a job has, and what a run goes on from.
// Everything rests on signed entries of the ledger and on the journals of this bench's paused runs.
#pragma once

#include <map>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "harness/phone/phone.hpp"
#include "home.hpp"
#include "profiles/profiles.hpp"
#include "reports/ledger/ledger.hpp"
#include "reports/record/words.hpp"

namespace hb::cli {

/// The key id in a compact JWS's header; empty when there is none.
[[nodiscard]] std::string signer_of(std::string_view jws);

/// Thumbprints of the keys that this bench signs or has signed with.
[[nodiscard]] std::set<std::string> own_key_ids(const Home& home, const std::string& current);

/// The phone that a job was last seen with.
struct JobPhone {
  std::string tag, tail;
  std::string seen;  ///< "run R of job J"
  /// Tags are made with a bench's own key: another bench's tag says nothing here, only the tail does.
  bool tag_is_ours = true;
  std::string paused_run = {};  ///< the run, when it is a paused one: it may be dropped
  [[nodiscard]] bool is(const phone::Identity& who) const {
    return tag_is_ours ? tag == who.tag : tag == who.tag || tail == who.tail;
  }
};

/// Of the job's runs and paused runs, the last one; else of the job that it comes back from.
[[nodiscard]] Result<std::optional<JobPhone>> phone_of(const Home& home, const ledger::Ledger& ledger,
                                                       const std::set<std::string>& own,
                                                       const record::Job& job);

struct OpenJob {
  record::Job job;
  std::optional<JobPhone> phone;
};

/// A job is open until a release run of it ended without a fail or a marginal measure and with something
/// tested: what a link cannot test must not keep a job open for ever. Jobs of this bench only: those that
/// were signed with a key of its own.
struct Openings {
  std::vector<OpenJob> open;                     ///< as taken in
  std::map<std::string, std::string> phone_job;  ///< tag of a phone -> the last job of this bench that had it
};
[[nodiscard]] Result<Openings> look_for_open_jobs(const Home& home, const ledger::Ledger& ledger,
                                                  const std::set<std::string>& own);
/// One line a job: number, opened, repair, tail of its phone.
[[nodiscard]] std::string list_of(const std::vector<OpenJob>& jobs);

/// What a new run measures, and what it takes over from the job's last run of the same kind.
struct Plan {
  std::optional<record::Follows> follows;
  std::set<std::string> measure;                  ///< ids
  std::map<std::string, nlohmann::json> carried;  ///< id -> as the earlier record tells it, with `taken`
  std::set<std::string> set_aside;                ///< stale and not to be measured now
};
struct Wish {
  std::vector<std::string> only;    ///< checks; empty: what is stale, or all
  std::vector<std::string> opened;  ///< words of opened_parts()
};
/// `earlier`: the job's last run of this kind, if any. Errors: invalid_argument, refused (a fail without a
/// named repair; another profile).
[[nodiscard]] Result<Plan> plan_run(const profiles::Profile& profile,
                                    const std::optional<ledger::Entry>& earlier, const Wish& wish);
/// The job's last run of this kind.
[[nodiscard]] Result<std::optional<ledger::Entry>> last_run(const ledger::Ledger& ledger,
                                                            const std::string& job, record::RunKind kind);
}  // namespace hb::cli
