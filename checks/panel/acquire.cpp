// The only part that waits: for a person in front of the screen.
#include <cmath>

#include "checks/follow.hpp"
#include "checks/panel/panel.hpp"
#include "harness/phone/phone.hpp"

namespace hb::checks {
namespace {
using net::awaitable;
using Shown = Panel::Shown;
constexpr net::milliseconds kPoll{250};  // bench time
constexpr auto kFoldLimit = std::chrono::seconds(60);
constexpr auto kLookLimit = std::chrono::minutes(10);
/// Wall time: what the page still has to send when the hands say that they have finished.
constexpr auto kAnswerLimit = std::chrono::seconds(30);
constexpr double kSameShape = 0.04;  // of the ratio of the sides; our choice

Shown reason_of(const Error& e) {
  if (e.code == ErrorCode::refused) return Shown::left_out;
  return e.code == ErrorCode::timed_out ? Shown::too_late : Shown::not_filled;
}

awaitable<Result<void>> move(Context& context, Action action) {
  Error late = not_done_in_time("panel");
  co_return co_await follow_through(
      context, std::move(action), kFoldLimit, [&context] { return context.clock.wait(kPoll); },
      std::move(late));
}

/// Until the page has its answer; `wanted` is taken back when that does not come.
awaitable<Result<void>> answer_soon(const bool& answered, bool& wanted) {
  const auto until = std::chrono::steady_clock::now() + kAnswerLimit;
  auto waited = Result<void>{};
  while (waited && !answered && std::chrono::steady_clock::now() < until) waited = co_await net::pause(kPoll);
  wanted = answered;
  co_return waited;
}

/// The hands are told; they have finished when they say so, or when the page has its answer.
awaitable<Result<void>> accompany(Context& context, const bool& answered, bool& wanted) {
  const auto until = context.clock.now() + kLookLimit;
  bool finished = false;
  while (!finished && !answered && context.clock.now() < until) {
    const auto waited = co_await context.clock.wait(kPoll);
    wanted = waited.has_value();
    if (!waited) co_return waited.error();
    if (answered) break;
    const auto done = co_await context.op.done();
    wanted = done.has_value();
    if (!done) co_return done.error();
    finished = *done;
  }
  if (!finished) {
    const auto stopped = co_await context.op.enough();
    wanted = stopped.has_value();
    if (!stopped) co_return stopped.error();
  }
  co_return co_await answer_soon(answered, wanted);
}

awaitable<Result<FieldMarks>> shown(PagePort& page, FieldShow show, bool& answered) {
  auto marks = co_await page.fields(std::move(show));
  answered = true;
  co_return marks;
}

awaitable<Result<FieldMarks>> look(Context& context, const Panel::Display& display) {
  using namespace net::asio::experimental::awaitable_operators;
  FieldShow show;
  show.fields = Panel::fields_of(display);
  Action action = MarkFields{display.name, static_cast<int>(show.fields.size())};
  const auto begun = co_await context.op.begin(std::move(action));
  if (!begun) co_return begun.error();
  bool answered = false, wanted = true;
  show.wanted = [&wanted] { return wanted; };
  auto both =
      co_await (shown(*context.page, std::move(show), answered) && accompany(context, answered, wanted));
  auto& [marks, accompanied] = both;
  if (!accompanied) co_return accompanied.error();
  if (!marks && !wanted)
    co_return Error{ErrorCode::timed_out, "the phone's page did not send what was marked", "panel",
                    "Try again."};
  co_return std::move(marks);
}

/// Opens the page where the phone now shows it.
awaitable<Result<void>> open_anew(Context& context, bool moved) {
  if (moved) {
    const auto closed = co_await context.page->close();
    if (!closed && ends_the_check(closed.error())) co_return closed.error();
    const auto awake = co_await context.phone.wake();
    if (!awake && ends_the_check(awake.error())) co_return awake.error();
  }
  co_return co_await context.page->open();
}

awaitable<Result<Panel::DisplayCapture>> one_panel(Context& context, const Panel::Display& display,
                                                   bool moved) {
  Panel::DisplayCapture c;
  c.part = display.name.str();
  const auto opened = co_await open_anew(context, moved);
  if (!opened) {
    if (ends_the_check(opened.error())) co_return opened.error();
    co_return c;
  }
  auto marks = co_await look(context, display);
  if (!marks) {
    if (ends_the_check(marks.error())) co_return marks.error();
    c.shown = reason_of(marks.error());
    co_return c;
  }
  c.width_px = marks->width_px, c.height_px = marks->height_px;
  const double ratio = static_cast<double>(c.width_px) / c.height_px,
               wanted = display.width_mm / display.height_mm;
  c.shown = std::abs(ratio / wanted - 1) <= kSameShape ? Shown::yes : Shown::other_screen;
  if (c.shown != Shown::yes) co_return c;
  c.fields = Panel::fields_of(display);
  c.marks = std::move(marks->marks);
  co_return c;
}
}  // namespace

awaitable<Result<Panel::Capture>> Panel::acquire(Context& context, Config config) const {
  if (context.page == nullptr)
    co_return Error{ErrorCode::unsupported, "no browser may be used on this phone", "panel",
                    "Allow the phone's browser for this run, or look at the screens by eye."};
  Capture capture;
  bool closed = false;
  for (const Display& d : config.displays) {
    const double done =
        static_cast<double>(capture.displays.size()) / static_cast<double>(config.displays.size());
    context.progress.step(done, "look at the screen's fields");
    const bool moves = d.closed != closed;
    if (moves) {
      const auto moved = co_await move(context, d.closed ? Action(Fold{}) : Action(Unfold{}));
      if (!moved) co_return moved.error();
      closed = d.closed;
    }
    auto one = co_await one_panel(context, d, moves);
    if (!one) co_return one.error();
    capture.displays.push_back(std::move(*one));
  }
  if (closed) {
    const auto left = co_await context.page->close();
    if (!left && ends_the_check(left.error())) co_return left.error();
    const auto opened = co_await move(context, Unfold{});
    if (!opened) co_return opened.error();
  }
  context.progress.step(1, "done");
  co_return capture;
}
}  // namespace hb::checks
