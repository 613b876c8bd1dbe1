// The only part that waits: for a person.
#include "checks/housing/housing.hpp"
#include "harness/net/asio.hpp"

namespace hb::checks {

net::awaitable<Result<Housing::Capture>> Housing::acquire(Context& context, Config config) const {
  Capture capture;
  const auto all = questions(config);
  for (const Question& q : all) {
    context.progress.step(static_cast<double>(capture.answers.size()) / static_cast<double>(all.size()),
                          "looking at the housing");
    const auto value = co_await context.op.observe(q);
    if (!value) co_return value.error();
    capture.answers.push_back({q.inspection, q.part.str(), *value});
  }
  context.progress.step(1, "done");
  co_return capture;
}

}  // namespace hb::checks
