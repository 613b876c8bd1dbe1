/// The technician's view on a terminal: live progress, prompts for hands, one bar a check under way. Writes
/// to stderr, so that standard output is left for results (--json). Plain lines when stderr is not a
/// terminal. A terminal that is not read holds up nothing (terminal_output.hpp). Threads: the run's strand.
#pragma once

#include <cstdio>
#include <memory>
#include <string>
#include <vector>

#include "harness/run/run.hpp"
#include "terminal_output.hpp"

namespace hb::cli {

class TerminalView final : public run::View {
 public:
  /// `output` outlives it. `quiet`: nothing but pauses and safety stops. `live`: the line may be redrawn (a
  /// terminal).
  TerminalView(Output& output, bool quiet, bool live, bool colour)
      : output_(output), quiet_(quiet), live_(live), colour_(colour) {}
  void connecting() override;
  void owner_must_allow() override;
  void connected(std::string_view tail, Term link) override;
  void check_starts(const checks::CheckInfo& info, std::size_t number, std::size_t of) override;
  void check_ends(const checks::CheckResult& result, bool from_journal) override;
  void paused(Term why, std::chrono::seconds waiting) override;
  void back() override;
  void safety_stop(std::string_view what, std::string_view next) override;
  void step(const checks::CheckInfo& info, double fraction, Term doing) override;
  void cell(const checks::CheckInfo& info, int col, int row, int cols, int rows) override;
  /// A prompt or a question: stands above the live lines until the end.
  void say(const std::string& text);
  /// The person ended `n` lines of typing, which moved the screen.
  void typed(int n);

 private:
  void line(const std::string& text);
  void redraw(bool now = false);
  [[nodiscard]] std::string erasing() const;
  [[nodiscard]] std::string mark(checks::Outcome o) const;

  Output& output_;
  bool quiet_, live_, colour_;
  bool paused_ = false;
  struct Bar {
    std::string id, title, doing;
    double fraction = 0;
    int last_quarter = -1;
  };
  [[nodiscard]] Bar* bar(const checks::CheckInfo& info);
  std::vector<Bar> bars_;  ///< of the checks under way
  int drawn_ = 0;          ///< lines of the live block on the screen
  std::string map_of_;     ///< the check whose cells are painted
  int cols_ = 0, rows_ = 0;
  std::vector<bool> cells_;
  std::chrono::steady_clock::time_point painted_{};
};

/// Prompts on the terminal; Enter says "done". Reads standard input when the run asks, and only what is
/// there: making the descriptor non-blocking would make standard output so too, which is the same open
/// terminal.
class TerminalOperator final : public checks::Operator {
 public:
  /// `view` outlives it.
  explicit TerminalOperator(TerminalView& view) : view_(view) {}
  net::awaitable<Result<void>> begin(checks::Action action) override;
  net::awaitable<Result<bool>> done() override;
  net::awaitable<Result<void>> enough() override;
  /// A question on the terminal; asked again until the answer is a number, or y or n.
  net::awaitable<Result<double>> observe(checks::Question question) override;

 private:
  void look();  ///< takes what was typed
  TerminalView& view_;
  std::string typed_;  ///< since the last prompt
  bool entered_ = false, ended_ = false;
};

[[nodiscard]] bool is_terminal(std::FILE* f);
[[nodiscard]] bool wants_colour(std::FILE* f);  ///< a terminal, and NO_COLOR is not set
}  // namespace hb::cli
