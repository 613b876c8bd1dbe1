/// From journal entries to results. Pure; private to harness/run.
#pragma once

#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "checks/check.hpp"
#include "profiles/profiles.hpp"

namespace hb::run {

/// nullptr when there is none of that name.
[[nodiscard]] const checks::AnyCheck* find(const std::vector<std::unique_ptr<checks::AnyCheck>>& all,
                                           std::string_view id);

/// Words that a link's or a check's error may put into a record: they passed the gate or are replaced.
[[nodiscard]] std::string reason_of(const Error& e);

/// A later try never hides a worse earlier one: the outcome is the worst of all tries that were judged.
/// `tries`: at least one.
[[nodiscard]] Result<checks::CheckResult> judge_tries(const checks::AnyCheck& check,
                                                      const std::vector<nlohmann::json>& tries,
                                                      const profiles::Profile& profile);
}  // namespace hb::run
