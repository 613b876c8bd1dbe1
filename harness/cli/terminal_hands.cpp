// The technician's hands and eyes, by prompts on a terminal.
#include <fmt/format.h>
#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cmath>

#include "checks/action/action.hpp"
#include "harness/base/text.hpp"
#include "terminal.hpp"

namespace hb::cli {

namespace {
std::string prompt(const checks::Action& action) {
  std::string out;
  for (const auto& saying : checks::words(action))
    out += (out.empty() ? "" : "\n    ") + checks::english(saying);
  return out;
}

/// A number, or yes and no; nullopt: ask again.
std::optional<double> answer_of(checks::Inspection inspection, std::string_view typed) {
  std::string t(trim(typed));
  if (checks::answer_kind(inspection) == checks::AnswerKind::yes_or_no) {
    if (t == "y" || t == "Y" || t == "yes") return 1;
    if (t == "n" || t == "N" || t == "no") return 0;
    return std::nullopt;
  }
  std::replace(t.begin(), t.end(), ',', '.');
  const auto v = to_double(t);
  if (!v || !checks::may_answer(inspection, *v)) return std::nullopt;
  return v;
}
}  // namespace

void TerminalOperator::look() {
  for (int most = 64; most > 0 && !ended_; --most) {
    pollfd there{STDIN_FILENO, POLLIN, 0};
    if (::poll(&there, 1, 0) <= 0) return;
    char c[64];
    const ssize_t n = ::read(STDIN_FILENO, c, sizeof c);
    if (n < 0 && (errno == EINTR || errno == EAGAIN)) return;
    if (n <= 0) {
      ended_ = true;
      return;
    }
    if (typed_.size() < 200) typed_.append(c, static_cast<std::size_t>(n));
    const auto lines = std::count(c, c + n, '\n');
    if (lines > 0) entered_ = true;
    view_.typed(static_cast<int>(lines));
  }
}

net::awaitable<Result<void>> TerminalOperator::begin(checks::Action action) {
  look();
  if (ended_)
    co_return Error{ErrorCode::unsupported, "nobody can answer the prompts: standard input is closed", "",
                    "Run it in a terminal, or give a fixture with --fixture."};
  entered_ = false;
  typed_.clear();
  std::string text = fmt::format("  ▶ {}  [Enter when done]", prompt(action));
  if (is_terminal(stderr)) {
    std::string_view rest = checks::picture(action);
    for (std::size_t end; (end = rest.find('\n')) != std::string_view::npos; rest.remove_prefix(end + 1))
      text += fmt::format("\n       {}", rest.substr(0, end));
  }
  view_.say(text);
  co_return Result<void>{};
}

net::awaitable<Result<bool>> TerminalOperator::done() {
  look();
  co_return entered_ || ended_;
}
net::awaitable<Result<void>> TerminalOperator::enough() {
  entered_ = true;
  co_return Result<void>{};
}

net::awaitable<Result<double>> TerminalOperator::observe(checks::Question question) {
  for (;;) {
    look();
    if (ended_)
      co_return Error{ErrorCode::unsupported, "nobody can answer the questions: standard input is closed", "",
                      "Run it in a terminal, or give a fixture with --fixture."};
    entered_ = false;
    typed_.clear();
    view_.say(fmt::format("  ? {}", checks::english(checks::words(question))));
    while (!entered_ && !ended_) {
      net::WallClock clock;
      const auto waited = co_await clock.wait(std::chrono::milliseconds(50));
      if (!waited) co_return waited.error();
      look();
    }
    const auto answer = answer_of(question.inspection, typed_.substr(0, typed_.find('\n')));
    if (answer) co_return *answer;
  }
}
}  // namespace hb::cli
