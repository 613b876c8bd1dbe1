#include "judging.hpp"

namespace hb::run {
namespace {
using checks::CheckResult;
using checks::Outcome;
using nlohmann::json;

CheckResult not_tested(const checks::CheckInfo& info, std::string reason) {
  CheckResult r;
  r.id = info.id.str();
  r.title = info.title.str();
  r.customer_title = info.customer_title.str();
  r.reason = std::move(reason);
  return r;
}

CheckResult stopped_for_safety(const checks::CheckInfo& info, std::string reason) {
  auto r = not_tested(info, std::move(reason));
  r.outcome = Outcome::fail;
  checks::Finding f;
  f.id = "safety_stop";
  f.says = "The check was stopped because a battery reading left its safe range.";
  f.open_again =
      "Disconnect the charger, let the phone cool on a surface that does not burn, and look for a swollen or "
      "damaged cell before "
      "anything else. Follow local rules for damaged lithium cells.";
  r.findings.push_back(std::move(f));
  return r;
}

Result<CheckResult> judge(const checks::AnyCheck& check, const json& entry,
                          const profiles::Profile& profile) {
  Result<CheckResult> r = not_tested(check.info(), "");
  if (entry.contains("capture")) {
    r = check.judge(entry["capture"], profile.sections, profile.limits);
  } else if (entry.contains("safety")) {
    r = stopped_for_safety(check.info(), entry.value("safety", ""));
  } else {
    r->reason = entry.value("not_tested", "");
    if (entry.value("waived", false)) r->outcome = Outcome::waived;
  }
  if (r) r->bench_seconds = entry.value("bench_seconds", 0.0);
  return r;
}
}  // namespace

std::string reason_of(const Error& e) {
  const auto t = ShopText::kept(e.what, "reason");
  return t ? t->str() : std::string(name(e.code));
}

const checks::AnyCheck* find(const std::vector<std::unique_ptr<checks::AnyCheck>>& all, std::string_view id) {
  for (const auto& c : all)
    if (c->info().id.view() == id) return c.get();
  return nullptr;
}

CheckResult stale(const checks::CheckInfo& info) {
  return not_tested(info, "the phone was opened again after this was tested");
}

Result<void> Tries::add(const checks::AnyCheck& check, const json& entry, const profiles::Profile& profile) {
  Result<CheckResult> r = Error{};
  try {
    r = judge(check, entry, profile);
  } catch (const std::exception&) {  // numbers that no phone gave
    return Error{ErrorCode::bad_format, "what the journal holds of this check cannot be judged",
                 check.info().id.str(), "This run cannot go on; start a new one."};
  }
  if (!r) return r.error();
  const double seconds = result_.bench_seconds + r->bench_seconds;
  const Outcome both[] = {r->outcome, result_.outcome};
  const bool untested_before = result_.outcome == Outcome::not_tested && r->outcome != Outcome::not_tested;
  const bool marginal_before = result_.outcome == Outcome::marginal && r->outcome != Outcome::not_tested;
  if (count_ == 0 || untested_before || marginal_before || checks::combine(both) == r->outcome) {
    result_ = std::move(*r);
    const auto at = entry.find("at_s");
    taken_s_ = at != entry.end() && at->is_number_integer() ? at->get<std::int64_t>() : 0;
  }
  result_.tries = ++count_;
  result_.bench_seconds = seconds;
  return {};
}
}  // namespace hb::run
