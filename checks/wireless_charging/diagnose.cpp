// Verdicts -> findings in assembly terms: the first row that fits is the one.
#include "checks/seen.hpp"
#include "checks/wireless_charging/wireless_charging.hpp"

namespace hb::checks {
namespace {
constexpr std::string_view kCoupled = "wireless_charging.coupled", kCouple = "wireless_charging.couple_s",
                           kNet = "wireless_charging.net_current_ma",
                           kPower = "wireless_charging.power_fraction",
                           kDropouts = "wireless_charging.dropouts", kKept = "wireless_charging.shifted_kept",
                           kRatio = "wireless_charging.shifted_current_ratio";

struct Row {
  std::vector<std::string_view> any_bad;  ///< one of these is fail or marginal
  Term id, says, open_again;
};

const std::vector<Row>& rows() {
  static const std::vector<Row> all = {
      {{kCoupled},
       "coil_flex_open",
       "The phone never coupled with the pad: either the coil's flex is open or not seated, or the pad is at "
       "fault.",
       "Try the pad with a phone that is known to charge. If that one charges, reseat the coil's connector."},
      {{kDropouts},
       "coil_flex_intermittent",
       "Charging broke off while the phone lay still: either the coil's flex touches now and then, or the "
       "pad "
       "breaks off by itself.",
       "Try the pad with a phone that is known to charge. If that one holds, reseat the coil's connector and "
       "look for a crack in its flex."},
      {{kNet, kPower, kCouple, kKept, kRatio},
       "coil_misplaced",
       "The phone couples but weakly or late, or loses the pad when pushed a little: either the coil or its "
       "shield "
       "sits off its place, or something metal lies between.",
       "Check that the coil and its ferrite lie flat in their recess and that no bracket or old adhesive "
       "lifts "
       "them."}};
  return all;
}
}  // namespace

std::vector<Finding> WirelessCharging::diagnose(std::span<const Verdict> verdicts, const Capture&,
                                                const Config&) {
  const auto bad = [&](std::string_view key) {
    for (const Verdict& v : verdicts)
      if (v.measure.key.view() == key && is_bad(v)) return true;
    return false;
  };
  for (const Row& row : rows()) {
    bool fits = false;
    for (const auto key : row.any_bad) fits = fits || bad(key);
    if (!fits) continue;
    Finding f{row.id, row.says, row.open_again, {}, {}};
    for (const Verdict& v : verdicts)
      if (bad(v.measure.key.view())) f.evidence.push_back(v.measure);
    return {std::move(f)};
  }
  return {};
}

}  // namespace hb::checks
