#include "detail/fields.hpp"

#include <cmath>

namespace hb::page {
namespace {
using nlohmann::json;

std::optional<checks::Mark> read_mark(const json& j) {
  if (!j.is_array() || j.size() != 5 || !j[0].is_number_unsigned()) return std::nullopt;
  const auto kind = j[0].get<std::uint64_t>();
  if (kind >= checks::kMarkKinds) return std::nullopt;
  double v[4] = {};
  for (std::size_t i = 0; i < 4; ++i) {
    if (!j[i + 1].is_number()) return std::nullopt;
    v[i] = j[i + 1].get<double>();
    if (!std::isfinite(v[i]) || v[i] < 0 || v[i] > 1) return std::nullopt;
  }
  return checks::Mark{static_cast<checks::MarkKind>(kind), v[0], v[1], v[2], v[3]};
}
}  // namespace

json fields_command(std::uint64_t seq, const std::vector<checks::Field>& fields) {
  json names = json::array();
  for (const auto f : fields) names.push_back(checks::name(f).view());
  json j = json::object();
  j["seq"] = seq, j["do"] = "fields", j["fields"] = std::move(names), j["most"] = checks::kMarksPerField;
  return j;
}

std::optional<std::vector<checks::Mark>> read_marks(ByteView body) {
  const json j = json::parse(body.begin(), body.end(), nullptr, false);
  if (!j.is_object() || !j.contains("marks") || !j["marks"].is_array() ||
      j["marks"].size() > static_cast<std::size_t>(checks::kMarksPerField))
    return std::nullopt;
  std::vector<checks::Mark> all;
  for (const auto& one : j["marks"]) {
    const auto mark = read_mark(one);
    if (!mark) return std::nullopt;
    all.push_back(*mark);
  }
  return all;
}

std::optional<int> read_side(const json& answer, const char* key) {
  const auto it = answer.find(key);
  if (it == answer.end() || !it->is_number_unsigned()) return std::nullopt;
  const auto v = it->get<std::uint64_t>();
  if (v < 64 || v > 20000) return std::nullopt;
  return static_cast<int>(v);
}

Error fields_error(std::string_view why) {
  if (why == "Left")
    return {ErrorCode::refused, "the person left the fields on the phone's page", "phone page",
            "Run the check again and go through all fields."};
  if (why == "Turned")
    return {ErrorCode::unsupported, "the picture on the screen was turned while the fields were shown",
            "phone page", "Hold the phone upright, switch rotation off, and run the check again."};
  if (why == "AbortError")
    return {ErrorCode::timed_out, "the fields were taken off the phone's page", "phone page", "Try again."};
  return {ErrorCode::unsupported, "the phone's browser cannot fill the whole screen", "phone page",
          "Use another browser as the phone's default, or look at the screen without the page."};
}
}  // namespace hb::page
