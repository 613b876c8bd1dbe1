// A profile as somebody wrote it: any text gives a profile or named problems, never both; each check that a
// good profile names takes its sections.
#include <cstdlib>

#include "checks/registry.hpp"
#include "profiles/profiles.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const auto known = hb::checks::all_checks();
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  const auto l = hb::profiles::load_text(text, "fuzz.toml", known);
  if (l.profile.has_value() != l.problems.empty()) std::abort();
  for (const auto& p : l.problems)
    if (p.what.empty() || p.message().empty()) std::abort();
  if (!l.profile) return 0;
  for (const auto& id : l.profile->checks)
    for (const auto& c : known)
      if (c->info().id.view() == id && !c->try_configure(l.profile->sections)) std::abort();
  return 0;
}
