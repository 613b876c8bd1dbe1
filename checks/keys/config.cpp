#include <algorithm>

#include "checks/keys/keys.hpp"

namespace hb::checks {

CheckInfo Keys::needs() {
  return {"keys",
          "Side keys and lid switch",
          "Side keys",
          {Resource::hands, Resource::hinge, Resource::screen, Resource::battery_load},
          std::chrono::seconds{30},
          "Press shortly and slowly: several quick presses of the power key can start an emergency call."};
}

std::vector<SectionSpec> Keys::sections() {
  // Fewer than five presses: five quick ones of the power key are the platform's emergency gesture.
  return {{"keys",
           false,
           {{"presses", KeyType::integer, "presses asked of each key, 1 to 4", false, 1, 4},
            {"lid_switch", KeyType::boolean, "true when the phone has a switch that tells closed from open",
             false}}},
          {"key",
           true,
           {{"code", KeyType::integer, "the key's code: 114 volume down, 115 volume up, 116 power", true, 114,
             116}}}};
}

Result<Keys::Config> Keys::configure(const Sections& sections) {
  Config c;
  for (const Section* s : sections.named("key")) {
    const auto code = static_cast<int>(s->integer("code"));
    const bool known =
        std::any_of(c.keys.begin(), c.keys.end(), [&](const Key& k) { return k.code == code; });
    if (known)
      return Error{ErrorCode::invalid_argument, "the code of a key stands twice", "key.code",
                   "Give each key a code of its own."};
    c.keys.push_back({s->name, code});
  }
  if (c.keys.empty())
    return Error{ErrorCode::unsupported, "the profile lists no keys", "key", "Add a [[key]] for each."};
  if (const Section* s = sections.one("keys")) {
    c.presses = static_cast<int>(s->integer("presses", 3));
    c.lid_switch = s->boolean("lid_switch", false);
  }
  return c;
}

std::vector<Term> Keys::limit_keys() {
  return {"keys.presses_seen",    "keys.presses_missed", "keys.bounces",     "keys.longest_press_s",
          "keys.presses_at_rest", "keys.stuck_at_rest",  "keys.lid_toggles", "keys.lid_toggles_off"};
}

}  // namespace hb::checks
