/// The technician's view on a terminal: live progress, prompts for hands, one bar a check under way. Writes
/// to stderr, so that standard output is left for results (--json). Plain lines when stderr is not a
/// terminal. Threads: the run's strand.
#pragma once

#include <cstdio>
#include <memory>
#include <string>
#include <vector>

#include "harness/run/run.hpp"

namespace hb::cli {

class TerminalView final : public run::View {
 public:
  /// `quiet`: nothing but pauses and safety stops. `live`: the line may be redrawn (a terminal).
  TerminalView(bool quiet, bool live, bool colour) : quiet_(quiet), live_(live), colour_(colour) {}
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
  void erase();
  [[nodiscard]] std::string mark(checks::Outcome o) const;

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

/// Prompts on the terminal; Enter says "done". Reads standard input without blocking the run.
class TerminalHands final : public checks::Hands {
 public:
  /// `view` outlives it.
  TerminalHands(net::asio::any_io_executor executor, TerminalView& view);
  ~TerminalHands() override;
  net::awaitable<Result<void>> begin(checks::Ask ask) override;
  net::awaitable<Result<bool>> done() override;
  net::awaitable<Result<void>> enough() override;
  /// A question on the terminal; asked again until the answer is a number, or y or n.
  net::awaitable<Result<double>> observe(checks::Question question) override;

 private:
  struct Keys;
  TerminalView& view_;
  std::shared_ptr<Keys> keys_;
};

[[nodiscard]] bool is_terminal(std::FILE* f);
[[nodiscard]] bool wants_colour(std::FILE* f);  ///< a terminal, and NO_COLOR is not set
}  // namespace hb::cli
