/// From journal entries to results. Pure; private to harness/run.
#pragma once

#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "checks/check.hpp"
#include "profiles/profiles.hpp"

namespace hb::run {

/// nullptr when there is none of that name.
[[nodiscard]] const checks::AnyCheck* find(const std::vector<std::unique_ptr<checks::AnyCheck>>& all,
                                           std::string_view id);

/// Words that a link's or a check's error may put into a record: they passed the gate or are replaced.
[[nodiscard]] std::string reason_of(const Error& e);

/// What stands in a record for an earlier result that is no longer valid.
[[nodiscard]] checks::CheckResult stale(const checks::CheckInfo& info);

/// The tries of one check so far. A capture is judged and not kept: the journal has it.
class Tries {
 public:
  /// `entry`: of the journal. Errors: bad_format; then nothing was counted.
  [[nodiscard]] Result<void> add(const checks::AnyCheck& check, const nlohmann::json& entry,
                                 const profiles::Profile& profile);
  [[nodiscard]] int count() const noexcept { return count_; }
  /// A later try never hides a worse earlier one: the outcome is the worst of all tries that were judged.
  /// At least one.
  [[nodiscard]] const checks::CheckResult& result() const& noexcept { return result_; }
  [[nodiscard]] checks::CheckResult result() && { return std::move(result_); }
  /// When the try that gave the result ended, in seconds since 1970; 0: the journal does not say.
  [[nodiscard]] std::int64_t taken_s() const noexcept { return taken_s_; }

 private:
  checks::CheckResult result_;
  int count_ = 0;
  std::int64_t taken_s_ = 0;
};
}  // namespace hb::run
