// The technician's hands and eyes, by prompts on a terminal.
#include <fmt/format.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <boost/asio/posix/stream_descriptor.hpp>
#include <cmath>

#include "checks/chart_seen.hpp"
#include "deed_pictures.hpp"
#include "harness/base/text.hpp"
#include "terminal.hpp"

namespace hb::cli {

namespace {
std::string face_words(double face) {
  static constexpr std::array<std::string_view, 6> up{
      "on its back, screen up",      "on its screen (soft cloth below)", "upright on its bottom edge",
      "upside down on its top edge", "on its left edge, screen upright", "on its right edge, screen upright"};
  const auto i = static_cast<std::size_t>(std::clamp(std::lround(face), 1L, 6L) - 1);
  return fmt::format("Lay the phone {}, let go of it, and leave it so until the next prompt.", up[i]);
}

/// `wrong`: what became of the last picture.
std::string aim_words(const std::string& part, double wrong) {
  const auto seen = static_cast<int>(wrong);
  const auto aim =
      fmt::format("Aim the {} camera at the chart so that the chart fills the picture. Hold still.", part);
  if (seen <= 0 || seen >= checks::kChartSeen) return aim;
  return fmt::format("Once more: {}.\n    {}", checks::to_change(static_cast<checks::ChartSeen>(seen)).view(),
                     aim);
}

std::string words(const checks::Ask& a) {
  using checks::Deed;
  const std::string part = a.part.str();
  switch (a.deed) {
    case Deed::leave_alone:
      return fmt::format("Lay the phone down and touch nothing for {:.0f} s.", a.amount);
    case Deed::sweep_panel:
      return fmt::format(
          "{} screen: wipe one finger over all of it, edge to edge, line by line. Then draw both diagonals, "
          "one line across and one down, "
          "and tap with two fingers.",
          part.empty() ? "The" : part);
    case Deed::fold_cycles:
      return fmt::format("From flat: close fully, open fully, {:.0f} times, with a short stop at both ends.",
                         a.amount);
    case Deed::hold_at_stop:
      if (a.amount < 1) return "Hold the phone fully closed.";
      if (a.amount > 179) return "Hold the phone fully open, flat on the bench.";
      return fmt::format("Hold the phone at {:.0f} degrees, against the square.", a.amount);
    case Deed::place_on_pad:
      return "Unplug any cable and lay the phone in the middle of the charging pad.";
    case Deed::shift_on_pad:
      return fmt::format("Push the phone {:.0f} mm off the middle of the pad.", a.amount);
    case Deed::lift_from_pad:
      return "Take the phone off the pad.";
    case Deed::point_at_chart:
      return aim_words(part, a.amount);
    case Deed::allow_on_page:
      return "On the phone's page, tap Start and then Allow.";
    case Deed::unfold:
      return "Open the phone flat.";
    case Deed::fold:
      return "Close the phone.";
    case Deed::press_keys:
      return fmt::format("Press the {} key {:.0f} times: short presses, about one a second.", part, a.amount);
    case Deed::lay_on_face:
      return face_words(a.amount);
    case Deed::plug_in:
      return fmt::format("Plug the bench's charger in, mark {}. Then leave it.",
                         a.amount < 1.5 ? "up" : "down");
    case Deed::wiggle_plug:
      return fmt::format("Move the plug gently in the port, up, down and sideways, for {:.0f} s.", a.amount);
    case Deed::unplug:
      return "Take the charger's plug out.";
    case Deed::cover_top:
      return "Cover the top of the screen with a finger and keep it there until the next prompt.";
    case Deed::cover_light:
      return fmt::format(
          "{}Lay a finger over the {} camera and its light, so that both are covered, and keep it there for "
          "5 s "
          "after Enter.\n    The light goes on and gets warm: lift the finger if it is too warm. Do not look "
          "into "
          "it.",
          a.amount > 0 ? "Once more, nothing was seen of the light. " : "", part);
    case Deed::mark_fields:
      return fmt::format(
          "{} screen: tap Begin on the phone's page. Look at each of its {:.0f} full-screen fields from "
          "about 30 "
          "cm, tap what is wrong, then Next.",
          part.empty() ? "The" : part, a.amount);
  }
  return "";
}
}  // namespace

namespace {
std::string words(const checks::Question& q) {
  using checks::Sight;
  const std::string part = q.part.str();
  switch (q.sight) {
    case Sight::widest_gap:
      return fmt::format("Slide a feeler gauge along the whole edge of the {}: widest gap in mm?", part);
    case Sight::screws:
      return fmt::format("Screws, {}: how many are there?", part);
    case Sight::seated:
      return fmt::format("Does the {} sit flush all round? y or n", part);
    case Sight::colour_agreed:
      return fmt::format("Is the colour of the {} the agreed one? y or n", part);
    case Sight::new_adhesive:
      return fmt::format("Was new adhesive used under the {}? y or n", part);
    case Sight::buzzed:
      return "Did the phone vibrate just now, three times? y or n";
    case Sight::sim_in:
      return "The phone reads no SIM. Is the bench's SIM in, its tray pushed home? y or n";
    case Sight::nfc_on:
      return "The phone says that NFC is off. Is it switched on in the settings? y or n";
  }
  return "";
}

/// A number, or yes and no; nullopt: ask again.
std::optional<double> answer_of(checks::Sight sight, std::string_view typed) {
  using checks::Sight;
  std::string t(trim(typed));
  if (sight == Sight::widest_gap || sight == Sight::screws) {
    std::replace(t.begin(), t.end(), ',', '.');
    const auto v = to_double(t);
    if (!v || !(*v >= 0) || *v > (sight == Sight::screws ? 100 : 20)) return std::nullopt;
    if (sight == Sight::screws && *v != std::floor(*v)) return std::nullopt;
    return v;
  }
  if (t == "y" || t == "Y" || t == "yes") return 1;
  if (t == "n" || t == "N" || t == "no") return 0;
  return std::nullopt;
}
}  // namespace

struct TerminalHands::Keys {
  Keys(net::asio::any_io_executor ex, TerminalView& v) : in(ex), view(&v) {}
  net::asio::posix::stream_descriptor in;
  std::string typed;  ///< since the last prompt
  TerminalView* view;
  bool entered = false, ended = false;
};

TerminalHands::TerminalHands(net::asio::any_io_executor executor, TerminalView& view)
    : view_(view), keys_(std::make_shared<Keys>(executor, view)) {
  const int fd = ::dup(STDIN_FILENO);
  if (fd < 0) {
    keys_->ended = true;
    return;
  }
  net::error_code ec;
  keys_->in.assign(fd, ec);
  if (ec) {
    keys_->ended = true;
    return;
  }
  auto keys = keys_;
  net::co_spawn(
      executor,
      [keys]() -> net::awaitable<void> {
        for (;;) {
          char c[64];
          const auto [rec, n] = co_await keys->in.async_read_some(net::asio::buffer(c), net::tuple);
          if (rec) break;
          if (keys->typed.size() < 200) keys->typed.append(c, n);
          const auto lines = std::count(c, c + n, '\n');
          if (lines > 0) keys->entered = true;
          keys->view->typed(static_cast<int>(lines));
        }
        keys->ended = true;
      },
      net::detached);
}

TerminalHands::~TerminalHands() {
  net::error_code ec;
  if (keys_->in.is_open()) keys_->in.close(ec);
}

net::awaitable<Result<void>> TerminalHands::begin(checks::Ask ask) {
  if (keys_->ended)
    co_return Error{ErrorCode::unsupported, "nobody can answer the prompts: standard input is closed", "",
                    "Run it in a terminal, or give a fixture with --fixture."};
  keys_->entered = false;
  keys_->typed.clear();
  std::string text = fmt::format("  ▶ {}  [Enter when done]", words(ask));
  if (is_terminal(stderr)) {
    const std::string drawing = picture(ask);
    std::string_view rest = drawing;
    for (std::size_t end; (end = rest.find('\n')) != std::string_view::npos; rest.remove_prefix(end + 1))
      text += fmt::format("\n       {}", rest.substr(0, end));
  }
  view_.say(text);
  co_return Result<void>{};
}

net::awaitable<Result<bool>> TerminalHands::done() { co_return keys_->entered || keys_->ended; }
net::awaitable<Result<void>> TerminalHands::enough() {
  keys_->entered = true;
  co_return Result<void>{};
}

net::awaitable<Result<double>> TerminalHands::observe(checks::Question question) {
  const auto keys = keys_;
  for (;;) {
    if (keys->ended)
      co_return Error{ErrorCode::unsupported, "nobody can answer the questions: standard input is closed", "",
                      "Run it in a terminal, or give a fixture with --fixture."};
    keys->entered = false;
    keys->typed.clear();
    view_.say(fmt::format("  ? {}", words(question)));
    while (!keys->entered && !keys->ended) {
      net::WallClock clock;
      const auto waited = co_await clock.wait(std::chrono::milliseconds(50));
      if (!waited) co_return waited.error();
    }
    const auto answer = answer_of(question.sight, keys->typed.substr(0, keys->typed.find('\n')));
    if (answer) co_return *answer;
  }
}
}  // namespace hb::cli
