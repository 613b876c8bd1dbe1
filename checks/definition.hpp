/// What a check is: one folder that acquires numbers from a phone (the only part that waits), measures them,
/// scores the measures against limits, and names the likely assembly fault. Everything after acquisition is
/// pure, so that a journal of captures replays to the same bits.
/// Threads: acquire() runs on its phone's strand; the rest on any thread.
#pragma once

#include <chrono>
#include <concepts>
#include <functional>
#include <nlohmann/json_fwd.hpp>
#include <span>
#include <utility>
#include <vector>

#include "checks/measurement.hpp"
#include "checks/operator.hpp"
#include "checks/page_port.hpp"
#include "checks/settings.hpp"
#include "harness/net/clock.hpp"

namespace hb::phone {
class Phone;
}

namespace hb::checks {

/// What a check needs for itself: two that share one never run side by side. `battery_load` is what the phone
/// draws: held by a check that needs it steady, and by each that changes it (motor, cameras, displays that
/// switch, automatic brightness). `hands`: the phone is moved, or must lie still.
enum class Resource { screen, hinge, cameras, battery_load, charger, hands, page };

struct CheckInfo {
  Term id;              ///< folder name
  Term title;           ///< shown to the technician: "Touch grid"
  Term customer_title;  ///< shown on the sheet: "Touch on the whole screen"
  std::vector<Resource> holds;
  std::chrono::seconds budget{60};  ///< bench time it normally takes
  Term caution;                     ///< shown before it starts; may be empty
};

/// Live progress: fraction in 0..1 of this check, and a closed word for what is going on.
class Progress {
 public:
  virtual ~Progress() = default;
  virtual void step(double fraction, Term doing) = 0;
  /// A touch map cell was reached; for live painting. Default: ignored.
  virtual void cell(int /*col*/, int /*row*/, int /*cols*/, int /*rows*/) {}
};

struct Context {
  phone::Phone& phone;
  PagePort* page;  ///< nullptr: no browser may be used
  net::Clock& clock;
  Operator& op;  ///< whoever moves the phone
  Progress& progress;
};

/// Said apart: a call whose result is not complete here may stand in a decltype, and nowhere else.
template <class C>
concept Acquires = std::same_as<decltype(std::declval<const C&>().acquire(
                                    std::declval<Context&>(), std::declval<const typename C::Config&>())),
                                net::awaitable<Result<typename C::Capture>>>;

template <class C>
concept CheckDefinition = Acquires<C> &&
    requires(const typename C::Config& config, const typename C::Capture& capture, const Sections& sections,
             std::span<const Verdict> verdicts, nlohmann::json& j, typename C::Capture& parsed) {
  { C::needs() } -> std::same_as<CheckInfo>;
  { C::sections() } -> std::same_as<std::vector<SectionSpec>>;  // profile sections that it reads
  { C::configure(sections) } -> std::same_as<Result<typename C::Config>>;
  { C::limit_keys() } -> std::same_as<std::vector<Term>>;             // measure keys that a profile may limit
  { C::measure(capture, config) } -> std::same_as<Result<Measured>>;  // unsupported => not tested
  { C::diagnose(verdicts, capture, config) } -> std::same_as<std::vector<Finding>>;
  to_json(j, capture);  // numbers and screened names: the journal keeps it
  from_json(std::as_const(j), parsed);
};

/// A check with its type erased, for the runner.
class AnyCheck {
 public:
  virtual ~AnyCheck() = default;
  [[nodiscard]] virtual CheckInfo info() const = 0;
  [[nodiscard]] virtual std::vector<SectionSpec> sections() const = 0;
  [[nodiscard]] virtual std::vector<Term> limit_keys() const = 0;
  /// The configuration is checked when the profile is loaded: an Error here is a profile error.
  [[nodiscard]] virtual Result<void> try_configure(const Sections& sections) const = 0;
  /// Talks to the phone; the capture comes back as numbers in JSON, ready for the journal.
  [[nodiscard]] virtual net::awaitable<Result<nlohmann::json>> acquire(Context& context,
                                                                       const Sections& sections) const = 0;
  /// Pure: the same capture, profile and limits give the same result, bit for bit.
  [[nodiscard]] virtual Result<CheckResult> judge(const nlohmann::json& capture, const Sections& sections,
                                                  std::span<const Limit> limits) const = 0;
};

/// Scores, combines and diagnoses. A limit of this check that found no measure makes the check not tested
/// (unless something else already fails it): a missing number is never a pass.
[[nodiscard]] Result<CheckResult> finish_result(
    const CheckInfo& info, Result<Measured> measured, std::span<const Limit> limits,
    const std::function<std::vector<Finding>(std::span<const Verdict>)>& diagnose);

}  // namespace hb::checks
