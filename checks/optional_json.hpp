/// What may be missing in a capture, as JSON: null is "not reported". Pure; nlohmann's errors pass through.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>

namespace hb::checks {

template <class T>
[[nodiscard]] nlohmann::json or_null(const std::optional<T>& v) {
  return v ? nlohmann::json(*v) : nlohmann::json(nullptr);
}
template <class T>
[[nodiscard]] std::optional<T> maybe(const nlohmann::json& j) {
  if (j.is_null()) return std::nullopt;
  return j.get<T>();
}
}  // namespace hb::checks
