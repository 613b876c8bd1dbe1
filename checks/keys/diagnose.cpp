// Verdicts -> findings in assembly terms, key by key: first what explains the rest.
#include "checks/keys/keys.hpp"
#include "checks/seen.hpp"

namespace hb::checks {
namespace {
constexpr std::string_view kSeen = "keys.presses_seen", kMissed = "keys.presses_missed",
                           kBounces = "keys.bounces", kLongest = "keys.longest_press_s",
                           kAtRest = "keys.presses_at_rest", kStuck = "keys.stuck_at_rest",
                           kLid = "keys.lid_toggles_off", kToggles = "keys.lid_toggles";

void of_key(const Seen& s, std::vector<Finding>& out) {
  if (s.bad(kStuck)) {
    out.push_back(s.finding(
        "key_stuck", "The key is held down although nobody touches it.",
        "Look at the key's cap and its seat in the frame: it must click and spring back; then its flex.",
        {kStuck, kSeen}));
    return;  // a key that is held down shows no presses either
  }
  if (s.bad(kLongest))
    out.push_back(s.finding(
        "key_stuck", "The key stayed down long: either it springs back late, or it was held.",
        "Press it shortly once more; if it stays down, look at the key's cap and its seat in the frame.",
        {kLongest, kSeen}));
  if (s.bad(kMissed) && s.value(kSeen).value_or(0) == 0)
    out.push_back(s.finding(
        "key_flex_open", "No press of the key was seen: either its flex is not seated, or it is torn.",
        "Reseat the connector of the side key flex; then look whether the key's cap reaches its switch.",
        {kMissed, kSeen}));
  else if (s.bad(kMissed) || s.bad(kBounces) || s.bad(kAtRest))
    out.push_back(s.finding(
        "key_worn_or_dirty",
        "The key's contact chatters, misses presses or closes by itself: either it is worn or dirty, or its "
        "flex is loose.",
        "Clean the switch and reseat the side key flex; if it stays so, the switch is worn.",
        {kBounces, kMissed, kAtRest, kSeen}));
}
}  // namespace

std::vector<Finding> Keys::diagnose(std::span<const Verdict> verdicts, const Capture&, const Config& config) {
  std::vector<Finding> out;
  for (const Key& key : config.keys) of_key({verdicts, key.name}, out);
  const Seen whole{verdicts, {}};
  if (whole.bad(kLid))
    out.push_back(whole.finding(
        "lid_switch_wrong",
        "The lid switch did not change once on closing and once on opening: either its sensor or magnet is "
        "missing or loose, or the phone was not closed fully.",
        "Close it fully and run again; then look for the magnet in the lid and the sensor's connector.",
        {kLid, kToggles}));
  return out;
}

}  // namespace hb::checks
