#include "checks/action/action.hpp"

#include <cmath>
#include <nlohmann/json.hpp>
#include <type_traits>

#include "harness/base/text.hpp"

namespace hb::checks {
namespace {
using nlohmann::json;

Error not_understood(std::string what, std::string_view where) {
  return {ErrorCode::invalid_argument, std::move(what), printable(where, 40),
          "Actions are named in checks/action/action.hpp."};
}

struct Writer {
  json& into;
  void operator()(const char* key, const ShopText& v) const { into[key] = v.str(); }
  void operator()(const char* key, bool v) const { into[key] = v; }
  template <class T>
  void operator()(const char* key, T v, double, double) const {
    if constexpr (std::is_enum_v<T>)
      into[key] = static_cast<int>(v);
    else
      into[key] = v;
  }
};

struct Reader {
  const json& from;
  Result<void>& outcome;
  [[nodiscard]] const json* member(const char* key) const {
    const auto it = from.find(key);
    if (it != from.end()) return &*it;
    if (outcome) outcome = not_understood("a member of this action is missing", key);
    return nullptr;
  }
  void operator()(const char* key, ShopText& v) const {
    const auto* j = member(key);
    if (j == nullptr) return;
    if (!j->is_string()) {
      outcome = not_understood("a part's name is a text", key);
      return;
    }
    auto text = ShopText::kept(j->get_ref<const std::string&>(), key);
    if (text)
      v = std::move(*text);
    else
      outcome = text.error();
  }
  void operator()(const char* key, bool& v) const {
    const auto* j = member(key);
    if (j == nullptr) return;
    if (j->is_boolean())
      v = j->get<bool>();
    else
      outcome = not_understood("true or false was expected", key);
  }
  template <class T>
  void operator()(const char* key, T& v, double least, double most) const {
    const auto* j = member(key);
    if (j == nullptr) return;
    const double d = j->is_number() ? j->get<double>() : std::nan("");
    if (!(d >= least && d <= most) || (!std::is_same_v<T, double> && d != std::floor(d))) {
      outcome = not_understood("this amount is out of range", key);
      return;
    }
    if constexpr (std::is_enum_v<T>)
      v = static_cast<T>(static_cast<int>(d));
    else
      v = static_cast<T>(d);
  }
};

template <std::size_t I = 0>
Result<Action> read(std::string_view wanted, const json& j) {
  if constexpr (I == std::variant_size_v<Action>) {
    return not_understood("there is no action of this name", wanted);
  } else {
    using T = std::variant_alternative_t<I, Action>;
    if (wanted != T::name.view()) return read<I + 1>(wanted, j);
    T action;
    Result<void> outcome;
    T::members(action, Reader{j, outcome});
    if (!outcome) return outcome.error();
    return Action(std::move(action));
  }
}
}  // namespace

Term name(const Action& action) noexcept {
  return std::visit([](const auto& a) { return std::decay_t<decltype(a)>::name; }, action);
}

json to_json(const Action& action) {
  json j = json::object();
  std::visit(
      [&j](const auto& a) {
        using T = std::decay_t<decltype(a)>;
        j["action"] = T::name.str();
        T::members(a, Writer{j});
      },
      action);
  return j;
}

Result<Action> action_from_json(const json& j) {
  const auto it = j.is_object() ? j.find("action") : j.end();
  if (!j.is_object() || it == j.end() || !it->is_string())
    return not_understood("an action is an object with a name under \"action\"", "");
  return read(it->get_ref<const std::string&>(), j);
}

AnswerKind answer_kind(Inspection inspection) noexcept {
  if (inspection == Inspection::widest_gap) return AnswerKind::millimetres;
  return inspection == Inspection::screws ? AnswerKind::count : AnswerKind::yes_or_no;
}

bool may_answer(Inspection inspection, double answer) noexcept {
  if (!std::isfinite(answer) || answer < 0) return false;
  switch (answer_kind(inspection)) {
    case AnswerKind::millimetres:
      return answer <= 20;
    case AnswerKind::count:
      return answer <= 100 && answer == std::floor(answer);
    case AnswerKind::yes_or_no:
      return answer == 0 || answer == 1;
  }
  return false;
}

Term name(Inspection inspection) noexcept {
  switch (inspection) {
    case Inspection::widest_gap:
      return "widest_gap";
    case Inspection::screws:
      return "screws";
    case Inspection::seated:
      return "seated";
    case Inspection::colour_agreed:
      return "colour_agreed";
    case Inspection::new_adhesive:
      return "new_adhesive";
    case Inspection::buzzed:
      return "buzzed";
    case Inspection::sim_in:
      return "sim_in";
    case Inspection::nfc_on:
      return "nfc_on";
  }
  return "seated";
}

std::string english(const Saying& saying) {
  std::string out;
  const std::string_view s = saying.sentence.view();
  for (std::size_t i = 0; i < s.size(); ++i) {
    if (s[i] == '{' && i + 2 < s.size() && s[i + 2] == '}') {
      const auto n = static_cast<std::size_t>(s[i + 1] - '0');
      if (n < saying.values.size()) out += saying.values[n];
      i += 2;
    } else {
      out += s[i];
    }
  }
  return out;
}
}  // namespace hb::checks
