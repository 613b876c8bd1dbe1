// Playing and recording through the page, with the test as the phone's browser.
#include "tests/page/script.hpp"

namespace hb::page::test {
namespace {
using checks::Recording;
using checks::SweepAsk;

class PageSound : public PageTest {
 protected:
  static SweepAsk asked() {
    SweepAsk a;
    a.output = 1, a.microphone = 2, a.lead_s = 0.1, a.sweep_s = 0.2, a.tail_s = 0.2;
    return a;
  }
  Result<void> sweep(SweepAsk a = asked()) {
    return run(io, page->sweep(a, [this](const Recording& r) {
      ++seen;
      rate = r.rate_hz, samples.assign(r.samples.begin(), r.samples.end());
    }));
  }
  int seen = 0, rate = 0;
  std::vector<std::int16_t> samples;
};

// 0.5 s at 8 kHz; sample k is 3 k - 6000.
std::string ramp() {
  std::string bytes;
  for (int k = 0; k < 4000; ++k) {
    const int v = 3 * k - 6000;
    bytes += static_cast<char>(v & 255), bytes += static_cast<char>((v >> 8) & 255);
  }
  return bytes;
}

net::awaitable<void> grant(std::shared_ptr<Script> s) {
  json granted = {{"granted", true}, {"of", "microphone"}};
  static_cast<void>(co_await s->answer(granted));
}
net::awaitable<int> done(std::shared_ptr<Script> s, std::uint64_t seq, std::string why = {}) {
  json reply = {{"seq", seq}, {"ok", why.empty()}};
  if (!why.empty()) reply["why"] = why;
  co_return co_await s->answer(reply);
}

TEST_F(PageSound, ARecordingComesOnceAsTheSamplesThatWereSent) {
  json command;
  std::vector<int> statuses;
  play = [&](std::shared_ptr<Script> s) -> net::awaitable<void> {
    command = co_await s->next();
    const std::uint64_t seq = command.at("seq");
    co_await grant(s);
    for (const int rate_hz :
         {4000, 16000, 8000, 8000})  // too slow, too few bytes for that rate, right, again
      statuses.push_back(co_await s->recording(seq, rate_hz, ramp()));
    statuses.push_back(co_await done(s, seq));
  };
  open();
  const auto r = sweep();
  ASSERT_TRUE(r) << r.error().message();
  EXPECT_EQ(command.at("do"), "sweep");
  EXPECT_EQ(command.at("output"), 1);
  EXPECT_EQ(command.at("microphone"), 2);
  EXPECT_EQ(command.at("f2"), 20000);
  ASSERT_TRUE(run_until(io, [&] { return statuses.size() == 5; }));
  EXPECT_EQ(statuses, (std::vector<int>{409, 400, 204, 409, 204}));
  EXPECT_EQ(seen, 1);
  EXPECT_EQ(rate, 8000);
  ASSERT_EQ(samples.size(), 4000u);
  EXPECT_EQ(samples[0], -6000);
  EXPECT_EQ(samples[3999], 5997);
}

TEST_F(PageSound, ABodyLongerThanTheRecordingIsRefusedUnread) {
  int status = 0;
  play = [&](std::shared_ptr<Script> s) -> net::awaitable<void> {
    const json c = co_await s->next();
    status = co_await s->recording(c.at("seq"), 8000, ramp() + "xx");
  };
  PageOptions o = patient();
  o.answer = 300ms, o.person = 1ms;
  page = make_page(phone, o);
  open();
  EXPECT_FALSE(sweep());
  EXPECT_EQ(status, 413);
  EXPECT_EQ(seen, 0);
}

TEST_F(PageSound, SayingDoneWithoutARecordingIsNotBelieved) {
  int status = 0;
  play = [&](std::shared_ptr<Script> s) -> net::awaitable<void> {
    const json c = co_await s->next();
    status = co_await done(s, c.at("seq"));
    static_cast<void>(co_await done(s, c.at("seq"), "AbortError"));
  };
  open();
  const auto r = sweep();
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::timed_out);
  EXPECT_EQ(status, 409);
}

TEST_F(PageSound, PlacesAreCountedAndAbsurdCountsRefused) {
  int first = 0;
  play = [&](std::shared_ptr<Script> s) -> net::awaitable<void> {
    const json c = co_await s->next();
    co_await grant(s);
    json reply = {{"seq", c.at("seq")}, {"ok", c.at("do") == "sound_places"}, {"microphones", 3}};
    reply["outputs"] = 65;
    first = co_await s->answer(reply);
    reply["outputs"] = 2;
    static_cast<void>(co_await s->answer(reply));
  };
  open();
  const auto r = run(io, page->sound_places());
  ASSERT_TRUE(r) << r.error().message();
  EXPECT_EQ(first, 400);
  EXPECT_EQ(r->microphones, 3);
  EXPECT_EQ(r->outputs, 2);
}

struct WhyRow {
  const char* why;
  ErrorCode code;
};
TEST_F(PageSound, FailuresAreAClosedListAndTheirTextIsDropped) {
  const WhyRow rows[] = {{"NotAllowedError", ErrorCode::refused},
                         {"NotFoundError", ErrorCode::not_found},
                         {"TimeoutError", ErrorCode::timed_out},
                         {"NotReadableError", ErrorCode::unsupported},
                         {"My Bluetooth headset", ErrorCode::unsupported}};
  play = [&](std::shared_ptr<Script> s) -> net::awaitable<void> {
    for (const auto& row : rows) {
      json c = co_await s->next();
      while (!c.is_object()) c = co_await s->next();
      static_cast<void>(co_await done(s, c.at("seq"), row.why));
    }
  };
  open();
  for (const auto& row : rows) {
    const auto r = sweep();
    ASSERT_FALSE(r);
    EXPECT_EQ(r.error().code, row.code) << row.why;
    EXPECT_EQ(r.error().message().find("headset"), std::string::npos);
    EXPECT_EQ(r.error().message().find("camera"), std::string::npos);
  }
}

TEST_F(PageSound, AllowingTheCameraIsNotAllowingTheMicrophone) {
  play = [&](std::shared_ptr<Script> s) -> net::awaitable<void> {
    json granted = {{"granted", true}};
    static_cast<void>(co_await s->answer(granted));
    for (;;) {
      const json c = co_await s->next();
      if (c.is_number() && c != 204) break;
    }
  };
  PageOptions o = patient();
  o.person = 100ms, o.answer = 100ms;
  page = make_page(phone, o);
  open();
  const auto r = run(io, page->sound_places());
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::timed_out);
  EXPECT_NE(r.error().message().find("microphone"), std::string::npos) << r.error().message();
}

TEST_F(PageSound, OpeningForSoundOffersTheMicrophoneAndOpeningAgainTheCamera) {
  std::vector<std::string> offered;
  play = [&](std::shared_ptr<Script> s) -> net::awaitable<void> {
    while (offered.size() < 2) {
      const json c = co_await s->next();
      if (!c.is_object()) continue;
      offered.push_back(c.at("do").get<std::string>() + " " + c.at("of").get<std::string>());
      static_cast<void>(co_await done(s, c.at("seq")));
    }
  };
  ASSERT_TRUE(run(io, page->open_for_sound()));
  ASSERT_TRUE(run(io, page->open()));
  ASSERT_TRUE(run(io, page->open()));
  EXPECT_EQ(offered, (std::vector<std::string>{"ask microphone", "ask camera"}));
  EXPECT_EQ(tokens.size(), 1u);
}

TEST_F(PageSound, ASweepOutsideItsBoundsIsNotSent) {
  open();
  for (auto change : {+[](SweepAsk& a) { a.level = 1.5; }, +[](SweepAsk& a) { a.sweep_s = 11; },
                      +[](SweepAsk& a) { a.f1_hz = a.f2_hz; }, +[](SweepAsk& a) { a.microphone = -1; },
                      +[](SweepAsk& a) { a.lead_s = std::nan(""); }}) {
    auto a = asked();
    change(a);
    const auto r = sweep(a);
    ASSERT_FALSE(r);
    EXPECT_EQ(r.error().code, ErrorCode::invalid_argument);
  }
}
}  // namespace
}  // namespace hb::page::test
