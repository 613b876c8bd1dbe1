/// Whoever moves the phone and looks at it: the technician, or an automatic fixture.
/// Threads: as checks/definition.hpp.
#pragma once

#include "checks/action/action.hpp"
#include "harness/base/result.hpp"
#include "harness/net/awaitable.hpp"

namespace hb::checks {

/// begin() tells them what to do; done() says whether they have finished. A check polls between its readings,
/// so that one person or one fixture works for every check.
class Operator {
 public:
  virtual ~Operator() = default;
  [[nodiscard]] virtual net::awaitable<Result<void>> begin(Action action) = 0;
  [[nodiscard]] virtual net::awaitable<Result<bool>> done() = 0;
  /// The check has seen all it needs: the action may stop (a prompt disappears).
  [[nodiscard]] virtual net::awaitable<Result<void>> enough() = 0;
  /// Asks for a look and waits for the answer. unsupported: this operator has no eyes.
  [[nodiscard]] virtual net::awaitable<Result<double>> observe(Question question);
};

}  // namespace hb::checks
