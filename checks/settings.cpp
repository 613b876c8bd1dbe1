#include "checks/settings.hpp"

#include <stdexcept>

namespace hb::checks {
namespace {
template <class T>
T get_or(const std::map<std::string, Setting, std::less<>>& values, std::string_view key, T fallback) {
  const auto it = values.find(key);
  if (it == values.end()) return fallback;
  const auto* v = std::get_if<T>(&it->second);
  if (v == nullptr) throw std::logic_error("this setting is of another type: " + std::string(key));
  return *v;
}
}  // namespace

double Section::number(std::string_view key, double fallback) const {
  const auto it = values.find(key);
  if (it != values.end())
    if (const auto* whole = std::get_if<long long>(&it->second)) return static_cast<double>(*whole);
  return get_or(values, key, fallback);
}
long long Section::integer(std::string_view key, long long fallback) const {
  return get_or(values, key, fallback);
}
bool Section::boolean(std::string_view key, bool fallback) const { return get_or(values, key, fallback); }
std::string Section::text(std::string_view key, std::string fallback) const {
  return get_or(values, key, std::move(fallback));
}
std::vector<double> Section::numbers(std::string_view key) const {
  return get_or(values, key, std::vector<double>{});
}

std::vector<const Section*> Sections::named(std::string_view name) const {
  std::vector<const Section*> out;
  for (const auto& [n, s] : all)
    if (n == name) out.push_back(&s);
  return out;
}

const Section* Sections::one(std::string_view name) const {
  const auto found = named(name);
  return found.empty() ? nullptr : found.front();
}
}  // namespace hb::checks
