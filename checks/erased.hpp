/// The adapter that erases a check's type for the runner. Only the registry reads this.
/// Threads: as checks/definition.hpp.
#pragma once

#include <nlohmann/json.hpp>

#include "checks/definition.hpp"
#include "harness/net/asio.hpp"

namespace hb::checks {

template <CheckDefinition C>
class Erased final : public AnyCheck {
 public:
  [[nodiscard]] CheckInfo info() const override { return C::needs(); }
  [[nodiscard]] std::vector<SectionSpec> sections() const override { return C::sections(); }
  [[nodiscard]] std::vector<Term> limit_keys() const override { return C::limit_keys(); }
  [[nodiscard]] Result<void> try_configure(const Sections& s) const override {
    auto c = C::configure(s);
    if (!c) return c.error();
    return {};
  }
  [[nodiscard]] net::awaitable<Result<nlohmann::json>> acquire(Context& context,
                                                               const Sections& s) const override {
    auto config = C::configure(s);
    if (!config) co_return config.error();
    auto capture = co_await C{}.acquire(context, *config);
    if (!capture) co_return capture.error();
    co_return nlohmann::json(*capture);
  }
  [[nodiscard]] Result<CheckResult> judge(const nlohmann::json& j, const Sections& s,
                                          std::span<const Limit> limits) const override {
    auto config = C::configure(s);
    if (!config) return config.error();
    typename C::Capture capture;
    try {
      capture = j.get<typename C::Capture>();
    } catch (const nlohmann::json::exception&) {
      return Error{ErrorCode::bad_format, "the journal's capture does not fit this check",
                   C::needs().id.str(), "Run the check again."};
    }
    return finish_result(C::needs(), C::measure(capture, *config), limits,
                         [&](std::span<const Verdict> v) { return C::diagnose(v, capture, *config); });
  }
};

}  // namespace hb::checks
