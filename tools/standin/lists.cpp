#include "lists.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "tools/standin/gossip/gossip.hpp"
#include "tools/standin/physics/faults.hpp"
#include "tools/standin/shell/canaries.hpp"

namespace hb::standin {
namespace {
std::string models_of(const FaultInfo& f) {
  return f.petal && f.plank ? "petal, plank" : f.petal ? "petal" : "plank";
}
}  // namespace

std::string fault_table(bool as_json) {
  if (as_json) {
    auto all = nlohmann::json::array();
    for (const auto& f : fault_list()) {
      auto models = nlohmann::json::array();
      if (f.petal) models.push_back("petal");
      if (f.plank) models.push_back("plank");
      all.push_back({{"name", f.name},
                     {"models", models},
                     {"kind", f.condition() ? "condition" : "fault"},
                     {"check", f.check},
                     {"finding", f.finding},
                     {"meaning", f.meaning}});
    }
    return all.dump(2) + "\n";
  }
  std::string out = fmt::format("{:<28} {:<13} {:<18} {:<30} {}\n", "NAME[:DEGREE]", "MODELS", "CHECK",
                                "FINDING", "MEANING");
  for (const auto& f : fault_list())
    out += fmt::format("{:<28} {:<13} {:<18} {:<30} {}\n", f.name, models_of(f), f.check,
                       f.condition() ? "(not tested)" : f.finding, f.meaning);
  return out;
}

std::string canary_table(std::uint64_t seed, bool as_json) {
  auto all = nlohmann::json::array();
  std::string out;
  for (const auto& c : kCanaries) {
    const std::string text = c.name == "serial" ? serial_of(seed) : std::string(c.text);
    all.push_back({{"name", c.name}, {"text", text}});
    out += fmt::format("{}\t{}\n", c.name, text);
  }
  for (std::size_t p = 0; p < gossip::kPlaces; ++p)
    for (std::size_t k = 0; k < gossip::kKinds; ++k) {
      const auto place = static_cast<gossip::Place>(p);
      const auto name = fmt::format("{}.{}", gossip::name(place), gossip::kind_name(k));
      all.push_back({{"name", name}, {"text", gossip::text(place, k)}, {"place", gossip::name(place)}});
      out += fmt::format("{}\t{}\n", name, gossip::text(place, k));
    }
  return as_json ? all.dump(2) + "\n" : out;
}
}  // namespace hb::standin
