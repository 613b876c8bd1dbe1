#include "terminal.hpp"

#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>

namespace hb::cli {
using checks::Outcome;

bool is_terminal(std::FILE* f) { return ::isatty(::fileno(f)) == 1; }
bool wants_colour(std::FILE* f) { return is_terminal(f) && std::getenv("NO_COLOR") == nullptr; }

std::string TerminalView::mark(Outcome o) const {
  struct Look {
    const char *sign, *colour;
  };
  const auto look = [&]() -> Look {
    switch (o) {
      case Outcome::pass:
        return {"✓ pass", "32"};
      case Outcome::marginal:
        return {"≈ marginal", "33"};
      case Outcome::fail:
        return {"✗ fail", "1;31"};
      case Outcome::not_tested:
        return {"– not tested", "36"};
      case Outcome::waived:
        return {"○ waived", "36"};
    }
    return {"?", "0"};
  }();
  return colour_ ? fmt::format("\x1b[{}m{}\x1b[0m", look.colour, look.sign) : look.sign;
}

std::string TerminalView::erasing() const {
  return drawn_ == 0 ? std::string() : fmt::format("\r\x1b[{}A\x1b[J", drawn_);
}

void TerminalView::line(const std::string& text) {
  output_.say(erasing() + text + "\n");
  drawn_ = 0;
}

void TerminalView::redraw(bool at_once) {
  const auto now = std::chrono::steady_clock::now();
  if (!at_once && now - painted_ < std::chrono::milliseconds(50)) return;
  painted_ = now;
  std::string block = erasing();
  int lines = 0;
  constexpr int width = 24;
  for (const auto& b : bars_) {
    const int full = static_cast<int>(std::lround(b.fraction * width));
    std::string drawn;
    for (int i = 0; i < width; ++i) drawn += i < full ? "█" : "░";
    block += fmt::format("  {} {:3.0f} %  {}{}\n", drawn, b.fraction * 100,
                         bars_.size() > 1 ? b.title + (b.doing.empty() ? "" : ": ") : "", b.doing);
    ++lines;
  }
  for (int r = 0; r + 1 < rows_ + 1; r += 2) {  // two cell rows a text line
    block += "     ";
    for (int c = 0; c < cols_; ++c) {
      const bool up = cells_[static_cast<std::size_t>(r * cols_ + c)];
      const bool down = r + 1 < rows_ && cells_[static_cast<std::size_t>((r + 1) * cols_ + c)];
      block += up && down ? "█" : up ? "▀" : down ? "▄" : "·";
    }
    block += "\n";
    ++lines;
  }
  if (output_.picture(std::move(block))) drawn_ = lines;
}

void TerminalView::connecting() {
  if (!quiet_ && !paused_) line("Connecting to the phone ...");
}

void TerminalView::owner_must_allow() {
  line("Look at the phone: it asks whether this bench may connect. Tap Allow (the screen must be unlocked).");
}

void TerminalView::connected(std::string_view tail, Term link) {
  if (!quiet_)
    line(fmt::format("Connected over {}. Serial number ends in {}.", link.view(),
                     tail.empty() ? "(not given)" : tail));
}

TerminalView::Bar* TerminalView::bar(const checks::CheckInfo& info) {
  const auto at =
      std::find_if(bars_.begin(), bars_.end(), [&](const Bar& b) { return b.id == info.id.view(); });
  return at == bars_.end() ? nullptr : &*at;
}

void TerminalView::check_starts(const checks::CheckInfo& info, std::size_t number, std::size_t of) {
  if (!quiet_) {
    line(fmt::format("{}/{} {}{}", number, of, info.title.view(),
                     bars_.empty() ? "" : "  (at the same time)"));
    if (!info.caution.empty()) line(fmt::format("     Caution: {}", info.caution.view()));
  }
  bars_.push_back({info.id.str(), info.title.str(), "", 0, -1});
}

void TerminalView::step(const checks::CheckInfo& info, double fraction, Term doing) {
  auto* b = bar(info);
  if (quiet_ || b == nullptr) return;
  b->fraction = std::clamp(fraction, 0.0, 1.0);
  const bool new_words = b->doing != doing.view();
  b->doing = doing.str();
  if (live_) return redraw();
  const int quarter = static_cast<int>(b->fraction * 4);
  if (new_words || quarter != b->last_quarter)
    static_cast<void>(output_.picture(fmt::format("     {:3.0f} %  {}{}\n", b->fraction * 100,
                                                  bars_.size() > 1 ? b->title + ": " : "", b->doing)));
  b->last_quarter = quarter;
}

void TerminalView::say(const std::string& text) {
  line(text);
  if (live_ && !bars_.empty()) redraw(true);
}

void TerminalView::typed(int n) {
  if (live_ && drawn_ > 0) drawn_ += n;
}

void TerminalView::cell(const checks::CheckInfo& info, int col, int row, int cols, int rows) {
  if (!live_ || quiet_ || cols <= 0 || rows <= 0 || cols > 200 || rows > 400) return;
  if (cols != cols_ || rows != rows_) {
    map_of_ = info.id.str();
    cols_ = cols, rows_ = rows;
    cells_.assign(static_cast<std::size_t>(cols * rows), false);
  }
  if (col >= 0 && col < cols && row >= 0 && row < rows)
    cells_[static_cast<std::size_t>(row * cols + col)] = true;
  redraw();
}

void TerminalView::check_ends(const checks::CheckResult& r, bool from_journal) {
  bars_.erase(std::remove_if(bars_.begin(), bars_.end(), [&](const Bar& b) { return b.id == r.id; }),
              bars_.end());
  if (r.id == map_of_) cols_ = rows_ = 0;
  if (quiet_) return;
  line(fmt::format("     {}  {}{}", mark(r.outcome), r.title, from_journal ? "  (measured before)" : ""));
  if (!r.reason.empty()) line(fmt::format("       {}", r.reason));
  for (const auto& f : r.findings) {
    const std::string part = f.part.empty() ? "" : " [" + f.part.str() + "]";
    line(fmt::format("       {}{}", f.says.view(), part));
    if (!f.open_again.empty()) line(fmt::format("       → {}", f.open_again.view()));
  }
  if (r.outcome == Outcome::marginal) line("       Too close to a limit to decide: test this check again.");
  if (live_ && !bars_.empty()) redraw(true);
}

void TerminalView::paused(Term why, std::chrono::seconds waiting) {
  bars_.clear();  // what was under way begins again
  cols_ = rows_ = 0;
  paused_ = true;
  line(fmt::format("PAUSED. {} (up to {} s; Ctrl-C keeps the run for later)", why.view(), waiting.count()));
}

void TerminalView::back() {
  paused_ = false;
  line("The same phone is back. Going on.");
}

void TerminalView::safety_stop(std::string_view what, std::string_view next) {
  line(fmt::format("STOPPED FOR SAFETY: {}\n  {}", what, next));
}
}  // namespace hb::cli
