#include "checks/follow.hpp"
#include "checks/sound/sound.hpp"

namespace hb::checks {
namespace {
using namespace std::chrono_literals;
constexpr auto kPoll = 250ms;  // bench time
constexpr auto kPatience = 2min;
constexpr int kRepeats = 2;
constexpr double kTake_s = 3;
constexpr double kTail_s = 1.1;  // some phones take long to begin

Error not_tested(const char* what, const char* next) { return {ErrorCode::unsupported, what, "sound", next}; }
Error refused() {
  return not_tested("the microphone was not allowed on the phone's page",
                    "Ask the owner; to test it, tap Start and then Allow, and run this check again.");
}

net::awaitable<Result<SoundPlaces>> open_page(Context& context) {
  auto opened = co_await context.page->open_for_sound();
  if (!opened) {
    if (ends_the_check(opened.error())) co_return opened.error();
    co_return not_tested("the phone's browser could not open the bench's page for sound",
                         "Unlock the phone, let it open the page, and run this check again.");
  }
  const auto poll = [&context] { return context.clock.wait(kPoll); };
  const AllowOnPage allow;
  auto allowed = co_await follow(context, allow, kPatience, poll);
  if (!allowed) co_return allowed.error();
  if (!*allowed) co_return refused();
  auto places = co_await context.page->sound_places();
  if (places || ends_the_check(places.error())) co_return places;
  if (places.error().code == ErrorCode::refused || places.error().code == ErrorCode::timed_out)
    co_return refused();
  co_return places;
}

/// nullopt: the browser has no such place after all.
net::awaitable<Result<std::optional<Sound::Take>>> one_take(Context& context, SweepAsk asked) {
  Sound::Take take;
  RecordingSink sink = [&take, asked](const Recording& r) { take = Sound::analyse(r, asked); };
  auto played = co_await context.page->sweep(asked, std::move(sink));
  if (played) co_return std::optional(std::move(take));
  switch (played.error().code) {
    case ErrorCode::not_found:
      co_return std::nullopt;
    case ErrorCode::refused:
      co_return refused();
    case ErrorCode::timed_out:
      co_return not_tested("the phone's page did not play and record in time",
                           "Keep the page in front on the phone and run this check again.");
    default:
      co_return played.error();
  }
}

double takes_of(const Sound::Config& config) {
  return static_cast<double>(config.speakers.size() * config.microphones.size()) * kRepeats;
}

net::awaitable<Result<void>> all_takes(Context& context, const Sound::Config& config, Sound::Capture& into) {
  const double all = takes_of(config);
  for (int repeat = 0; repeat < kRepeats; ++repeat)
    for (const auto& speaker : config.speakers)
      for (const auto& microphone : config.microphones) {
        if (speaker.output >= into.outputs || microphone.index >= into.microphones) continue;
        context.progress.step(static_cast<double>(into.takes.size()) / all, "listen: keep the room quiet");
        SweepAsk asked;
        asked.tail_s = kTail_s;
        asked.output = speaker.output, asked.microphone = microphone.index;
        auto take = co_await one_take(context, asked);
        if (!take) co_return take.error();
        if (!*take) continue;
        (*take)->speaker = speaker.name.str(), (*take)->microphone = microphone.name.str();
        into.takes.push_back(std::move(**take));
      }
  co_return Result<void>{};
}
}  // namespace

net::awaitable<Result<Sound::Capture>> Sound::acquire(Context& context, const Config& config) const {
  if (context.page == nullptr)
    co_return not_tested("no browser may be used on this phone",
                         "Allow the phone's browser for this run, or listen to it by ear.");
  context.progress.step(0, "open the page on the phone and allow the microphone");
  auto places = co_await open_page(context);
  if (!places) co_return places.error();
  Capture capture;
  capture.outputs = places->outputs, capture.microphones = places->microphones;
  const LeaveAlone leave{kTake_s * takes_of(config)};
  auto left = co_await context.op.begin(leave);
  if (!left) co_return left.error();
  auto done = co_await all_takes(context, config, capture);
  auto enough = co_await context.op.enough();
  if (!done) co_return done.error();
  if (!enough) co_return enough.error();
  context.progress.step(1, "sound measured");
  co_return std::move(capture);
}
}  // namespace hb::checks
