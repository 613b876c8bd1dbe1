#include "checks/seen.hpp"

namespace hb::checks {

const Verdict* Seen::find(std::string_view key) const {
  for (const Verdict& v : all)
    if (v.measure.key.view() == key && v.measure.part == part) return &v;
  return nullptr;
}

bool Seen::bad(std::string_view key) const {
  const Verdict* v = find(key);
  return v != nullptr && is_bad(*v);
}

std::optional<double> Seen::value(std::string_view key) const {
  const Verdict* v = find(key);
  if (v == nullptr) return std::nullopt;
  return v->measure.value;
}

std::vector<Measure> Seen::evidence(std::initializer_list<std::string_view> keys) const {
  std::vector<Measure> out;
  for (const auto key : keys)
    if (const Verdict* v = find(key)) out.push_back(v->measure);
  return out;
}

Finding Seen::finding(Term id, Term says, Term open_again,
                      std::initializer_list<std::string_view> keys) const {
  return {id, says, open_again, part, evidence(keys)};
}
}  // namespace hb::checks
