#include "harness/page/page.hpp"

#include <sodium.h>

#include <algorithm>

#include "checks/follow.hpp"
#include "detail/session.hpp"

namespace hb::page {
namespace {
using checks::Facing;
using SteadyClock = std::chrono::steady_clock;
constexpr int kMostFrames = 16;           // of one command
constexpr net::milliseconds kSlice{250};  // a link that died without closing its streams is noticed this soon

// A name for our end within the link, new each time, so that a forward left behind by a cancelled run is
// never taken for this one.
std::uint16_t random_host_port() { return static_cast<std::uint16_t>(20000 + randombytes_uniform(40000)); }

std::string random_token() {
  Bytes b(16);
  randombytes_buf(b.data(), b.size());
  return hex(b);
}

Error lost() {
  return {ErrorCode::link_lost, "the phone went away while its page was in use", "phone page",
          "Plug the cable in again; the run goes on from here."};
}
Error cancelled() { return {ErrorCode::cancelled, "stopped", "phone page", ""}; }
Error misuse(std::string what) { return {ErrorCode::invalid_argument, std::move(what), "phone page", ""}; }

net::awaitable<void> connection(std::shared_ptr<Session> session, std::unique_ptr<link::Stream> stream,
                                PageOptions options) {
  link::Stream* const key = stream.get();
  if (!session->enter(key)) {
    stream->close();
    co_return;
  }
  struct Entered {
    Session& session;
    link::Stream* key;
    ~Entered() { session.leave(key); }
  } entered{*session, key};
  co_await serve(session, std::move(stream), options);
}

class Page final : public checks::PagePort {
 public:
  Page(phone::Phone& phone, PageOptions options) : phone_(phone), options_(std::move(options)) {
    if (options_.host.empty()) options_.host = host_of_one_run();
  }
  ~Page() override {
    if (session_) session_->end();
  }
  Page(const Page&) = delete;
  Page& operator=(const Page&) = delete;

  net::awaitable<Result<void>> open() override {
    if (!phone_.link().alive()) co_return lost();
    if (session_) {
      if (!gone()) {
        if (asks_microphone_)
          if (auto shown = co_await offer(Command::Do::ask_camera); !shown) co_return shown.error();
        co_return Result<void>{};
      }
      session_->end(), session_.reset();
      static_cast<void>(co_await phone_.link().remove_reverse(port_, options_.forward));
    }
    auto session = std::make_shared<Session>(random_token(), options_.poll);
    auto port = co_await forward(session);
    if (!port) co_return port.error();
    port_ = *port;
    session->set_place(options_.host, port_);
    session_ = session;
    auto shown = co_await show(session);
    if (shown) co_return Result<void>{};
    session->end(), session_.reset();
    if (!checks::ends_the_check(shown.error()))
      static_cast<void>(co_await phone_.link().remove_reverse(port_, options_.forward));
    co_return shown.error();
  }

  net::awaitable<Result<int>> cameras(Facing facing) override {
    Command c;
    c.what = Command::Do::count, c.facing = facing;
    Held held;
    co_return co_await ask(c, held);
  }

  net::awaitable<Result<void>> frames(Facing facing, int index, int width, int height, int count,
                                      checks::FrameSink sink) override {
    Command c = command_of({facing, index, width, height}, count);
    return take(std::move(c), std::move(sink));
  }

  net::awaitable<Result<void>> focus_frames(checks::CameraAsk camera, int steps, int each,
                                            checks::FrameSink sink) override {
    const bool within = steps >= 2 && steps <= kMostFrames && each >= 1 && each <= kMostFrames;
    Command c = command_of(camera, within ? steps * each : 0);
    c.focus_steps = steps;
    return take(std::move(c), std::move(sink));
  }

  net::awaitable<Result<void>> light_frames(checks::CameraAsk camera, int dark, int lit,
                                            checks::FrameSink sink) override {
    const bool within = dark >= 1 && dark <= kMostFrames && lit >= 1 && lit <= kMostFrames;
    Command c = command_of(camera, within ? 2 * dark + lit : 0);
    c.lit = lit;
    return take(std::move(c), std::move(sink));
  }

  net::awaitable<Result<void>> open_for_sound() override {
    auto opened = co_await open();
    if (!opened) co_return opened.error();
    co_return co_await offer(Command::Do::ask_microphone);
  }

  net::awaitable<Result<checks::SoundPlaces>> sound_places() override {
    Command c;
    c.what = Command::Do::sound_places;
    Held held;
    auto done = co_await ask(c, held);
    if (!done) co_return done.error();
    co_return held.session->places();
  }

  net::awaitable<Result<void>> sweep(checks::SweepAsk wanted, checks::RecordingSink sink) override {
    const auto within = [](double v, double lowest, double highest) { return v >= lowest && v <= highest; };
    if (!within(wanted.output, 0, 63) || !within(wanted.microphone, 0, 63) ||
        !within(wanted.f1_hz, 10, wanted.f2_hz / 2) || !within(wanted.f2_hz, 20, 40000) ||
        !within(wanted.level, 0, 1) || !within(wanted.sweep_s, 0.05, 10) || !within(wanted.lead_s, 0, 5) ||
        !within(wanted.tail_s, 0, 5))
      co_return misuse("a sweep outside what the page allows");
    Command c;
    c.what = Command::Do::sweep, c.sound = wanted;
    Held held;
    auto done = co_await ask(c, held, {}, std::move(sink));
    if (!done) co_return done.error();
    co_return Result<void>{};
  }

  net::awaitable<Result<checks::FieldMarks>> fields(checks::FieldShow show) override {
    if (show.fields.empty() || show.fields.size() > static_cast<std::size_t>(checks::kFields))
      co_return misuse("more or fewer fields than the page shows");
    Command c;
    c.what = Command::Do::fields, c.fields = show.fields;
    Held held;
    const auto limit = options_.person + options_.field * static_cast<long>(show.fields.size());
    auto done = co_await ask_person(c, held, limit, show.wanted);
    if (!done) co_return done.error();
    co_return checks::FieldMarks(held.session->marked());
  }

  net::awaitable<Result<void>> close() override {
    if (!session_) co_return Result<void>{};
    const auto session = session_;
    session->stop();
    const auto until = SteadyClock::now() + net::milliseconds(1500);
    while (session->has_page() && !gone() && !session->stopped() && phone_.link().alive() &&
           SteadyClock::now() < until) {
      const bool going = co_await session->change(std::min(until, SteadyClock::now() + kSlice));
      if (!going) co_return cancelled();
    }
    session_.reset();
    if (!phone_.link().alive()) {
      session->end();
      co_return lost();
    }
    auto removed = co_await phone_.link().remove_reverse(port_, options_.forward);
    session->end();
    co_return removed;
  }

 private:
  // Frees the session for the next command however the coroutine ends.
  struct Held {
    std::shared_ptr<Session> session;
    Held() = default;
    ~Held() {
      if (session) session->drop();
    }
    Held(const Held&) = delete;
    Held& operator=(const Held&) = delete;
  };

  bool gone() const {
    return session_->has_page() && SteadyClock::now() - session_->last_seen() > options_.silence;
  }

  net::awaitable<Result<std::uint16_t>> forward(std::shared_ptr<Session> session) {
    const auto options = options_;
    link::Link::Acceptor accept = [session, options](std::unique_ptr<link::Stream> stream) {
      return connection(session, std::move(stream), options);
    };
    const std::uint16_t host_port = random_host_port();
    auto port = co_await phone_.link().reverse(options_.device_port, host_port, accept, options_.forward);
    if (port || checks::ends_the_check(port.error()) || options_.device_port == 0) co_return port;
    co_return co_await phone_.link().reverse(0, random_host_port(), accept, options_.forward);
  }

  net::awaitable<Result<void>> show(std::shared_ptr<Session> session) {
    auto awake = co_await phone_.wake();
    if (!awake && checks::ends_the_check(awake.error())) co_return awake.error();
    auto opened = co_await phone_.open_page(options_.host, port_, session->token());
    if (!opened) co_return opened.error();
    const auto until = SteadyClock::now() + options_.hello;
    while (!session->has_page()) {
      if (!phone_.link().alive()) co_return lost();
      if (SteadyClock::now() >= until)
        co_return Error{ErrorCode::timed_out, "the phone's browser did not open the page", "phone page",
                        "Unlock the phone, close what lies over its browser, and try again."};
      const bool going = co_await session->change(std::min(until, SteadyClock::now() + kSlice));
      if (!going) co_return cancelled();
    }
    co_return Result<void>{};
  }

  /// Has the page offer "Start" for the camera or the microphone.
  net::awaitable<Result<void>> offer(Command::Do what) {
    asks_microphone_ = what == Command::Do::ask_microphone;
    Command c;
    c.what = what;
    Held held;
    auto done = co_await ask(c, held);
    if (!done) co_return done.error();
    co_return Result<void>{};
  }

  static Command command_of(checks::CameraAsk camera, int count) {
    Command c;
    c.what = Command::Do::frames, c.facing = camera.facing, c.index = camera.index;
    c.width = camera.width, c.height = camera.height, c.count = count;
    return c;
  }

  net::awaitable<Result<void>> take(Command c, checks::FrameSink sink) {
    const auto side = [](int v) { return v >= 16 && v <= 4096; };
    if (c.index < 0 || c.index > 63 || !side(c.width) || !side(c.height) || c.count < 1 ||
        c.count > kMostFrames)
      co_return misuse("a take of frames outside what the page allows");
    std::shared_ptr<void> place;  // until the last picture is gone
    if (options_.room) {
      auto got = co_await options_.room->take(3 * static_cast<std::size_t>(c.width) *
                                              static_cast<std::size_t>(c.height));
      if (!got) co_return got.error();
      place = std::move(*got);
    }
    Held held;
    auto done = co_await ask(c, held, std::move(sink));
    if (!done) co_return done.error();
    co_return Result<void>{};
  }

  // `held` belongs to the caller's frame, which outlives this one.
  net::awaitable<Result<int>> ask(Command command, Held& held, checks::FrameSink sink = {},
                                  checks::RecordingSink recording = {}) {
    if (!phone_.link().alive()) co_return lost();
    if (!session_) co_return misuse("the phone page is not open");
    if (session_->busy()) co_return misuse("the phone page is busy with another command");
    const auto session = session_;
    held.session = session;
    if (command.what == Command::Do::sweep)
      session->begin(command, std::move(recording));
    else
      session->begin(command, std::move(sink));
    const auto work = options_.answer + net::milliseconds(10000) * command.count;
    bool granted = session->granted();
    auto until = SteadyClock::now() + (granted ? work : options_.person + work);
    while (!session->answered()) {
      if (!phone_.link().alive()) co_return lost();
      if (session->over()) co_return cancelled();
      if (!granted && session->granted()) granted = true, until = SteadyClock::now() + work;
      if (SteadyClock::now() >= until) co_return late(granted, command.of_sound());
      if (gone_for(*session))
        co_return Error{ErrorCode::timed_out, "the page was closed on the phone", "phone page",
                        "Try again; the page is opened anew."};
      const bool going = co_await session->change(std::min(until, SteadyClock::now() + kSlice));
      if (!going) co_return cancelled();
    }
    co_return session->outcome();
  }

  // A command that a person answers, in their own time.
  net::awaitable<Result<void>> ask_person(Command command, Held& held, net::milliseconds limit,
                                          std::function<bool()> wanted) {
    if (!phone_.link().alive()) co_return lost();
    if (!session_) co_return misuse("the phone page is not open");
    if (session_->busy()) co_return misuse("the phone page is busy with another command");
    const auto session = session_;
    held.session = session;
    session->begin(command);
    const auto until = SteadyClock::now() + limit;
    while (!session->answered()) {
      if (!phone_.link().alive()) co_return lost();
      if (session->over() || !wanted()) co_return cancelled();
      if (SteadyClock::now() >= until)
        co_return Error{ErrorCode::timed_out, "the fields on the phone's page were not finished in time",
                        "phone page", "Try again; tap Next on each field."};
      if (gone_for(*session))
        co_return Error{ErrorCode::timed_out, "the page was closed on the phone", "phone page",
                        "Try again; the page is opened anew."};
      const bool going = co_await session->change(std::min(until, SteadyClock::now() + kSlice));
      if (!going) co_return cancelled();
    }
    const auto outcome = session->outcome();
    if (!outcome) co_return outcome.error();
    co_return Result<void>{};
  }

  bool gone_for(const Session& s) const { return SteadyClock::now() - s.last_seen() > options_.silence; }

  static Error late(bool granted, bool of_sound) {
    if (granted)
      return {ErrorCode::timed_out, "the phone page did not answer in time", "phone page",
              "Try again; keep the page in front on the phone."};
    return {
        ErrorCode::timed_out,
        of_sound ? "nobody allowed the microphone on the phone" : "nobody allowed the camera on the phone",
        "phone page", "Tap Start on the phone's page, then Allow."};
  }

  phone::Phone& phone_;
  PageOptions options_;
  std::shared_ptr<Session> session_;
  std::uint16_t port_ = 0;
  bool asks_microphone_ = false;  ///< what the page's "Start" is for
};
}  // namespace

std::unique_ptr<checks::PagePort> make_page(phone::Phone& phone, PageOptions options) {
  return std::make_unique<Page>(phone, std::move(options));
}

std::string host_of_one_run() {
  Bytes b(10);
  randombytes_buf(b.data(), b.size());
  return "h" + hex(b);
}
}  // namespace hb::page
