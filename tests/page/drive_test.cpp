// Pictures for which the bench drives the camera: its focus and its light.
#include "tests/page/script.hpp"

namespace hb::page::test {
namespace {
using checks::Facing;
const checks::CameraAsk kAsk{Facing::back, 0, 32, 16};

TEST_F(PageTest, FocusFramesSayTheirSettingAndNothingElseIsTaken) {
  json command;
  std::vector<int> got;
  play = [&](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& heard = command;
    auto& all = got;
    heard = co_await s->next();
    const std::uint64_t seq = heard.at("seq");
    const std::string bytes(3 * 32 * 16, 'x');
    for (const char* setting : {"", "&d=0", "&d=-1", "&d=inf", "&d=nan", "&d=0.001", "&d=1e9", "&d=near"}) {
      const std::string more = setting;
      all.push_back(co_await s->frame(seq, 0, 32, 16, bytes, more));
    }
    for (int i = 0; i < 4; ++i) {
      const std::string more = fmt::format("&d={}", i < 2 ? "8" : "0.1");
      all.push_back(co_await s->frame(seq, i, 32, 16, bytes, more));
    }
    json reply = {{"seq", seq}, {"ok", true}};
    static_cast<void>(co_await s->answer(reply));
  };
  open();
  std::vector<double> settings(4);
  checks::FrameSink sink = [&](int i, const checks::Frame& f) {
    settings.at(static_cast<std::size_t>(i)) = f.focus_m;
  };
  const auto done = run(io, page->focus_frames(kAsk, 2, 2, std::move(sink)));
  ASSERT_TRUE(done) << done.error().message();
  EXPECT_EQ(command.value("focus", 0), 2);
  EXPECT_EQ(command.value("count", 0), 4);
  EXPECT_FALSE(command.contains("lit"));
  EXPECT_EQ(settings, (std::vector<double>{8, 8, 0.1, 0.1}));
  EXPECT_EQ(got, (std::vector<int>{409, 409, 409, 409, 409, 409, 409, 409, 204, 204, 204, 204}));
}

TEST_F(PageTest, LightFramesAskForLitOnesInTheMiddleAndTakeNoSetting) {
  json command;
  int refused = 0;
  play = [&](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& heard = command;
    heard = co_await s->next();
    const std::uint64_t seq = heard.at("seq");
    const std::string bytes(3 * 32 * 16, 'x'), setting = "&d=0.5";
    const std::string large(3 * 32 * 17, 'x');  // takes more memory than was set apart for it
    refused = co_await s->frame(seq, 0, 32, 17, large);
    for (int i = 0; i < 5; ++i) static_cast<void>(co_await s->frame(seq, i, 32, 16, bytes, setting));
    json reply = {{"seq", seq}, {"ok", true}};
    static_cast<void>(co_await s->answer(reply));
  };
  open();
  int frames = 0;
  checks::FrameSink sink = [&](int, const checks::Frame& f) { frames += f.focus_m == 0; };
  ASSERT_TRUE(run(io, page->light_frames(kAsk, 1, 3, std::move(sink))));
  EXPECT_EQ(command.value("count", 0), 5);
  EXPECT_EQ(command.value("lit", 0), 3);
  EXPECT_FALSE(command.contains("focus"));
  EXPECT_EQ(frames, 5);
  EXPECT_EQ(refused, 409);
}

TEST_F(PageTest, ABrowserThatOffersNoSuchControlIsUnsupportedAndSaysSo) {
  play = [](std::shared_ptr<Script> s) -> net::awaitable<void> {
    for (int i = 0; i < 2; ++i) {
      json c = co_await s->next();
      while (!c.is_object()) c = co_await s->next();
      json reply = {{"seq", c.at("seq")}, {"ok", false}, {"why", "NotOffered"}};
      static_cast<void>(co_await s->answer(reply));
    }
  };
  open();
  for (const bool light : {false, true}) {
    const auto done = light ? run(io, page->light_frames(kAsk, 1, 1, checks::FrameSink{}))
                            : run(io, page->focus_frames(kAsk, 2, 1, checks::FrameSink{}));
    ASSERT_FALSE(done);
    EXPECT_EQ(done.error().code, ErrorCode::unsupported);
    EXPECT_NE(done.error().what.find("does not offer"), std::string::npos);
  }
}

TEST_F(PageTest, DrivenTakesOutsideTheBoundsAreRefusedBeforeThePhoneIsAsked) {
  open();
  for (const auto& [steps, each] : {std::pair{1, 2}, {2, 0}, {17, 1}, {9, 2}, {-1, -2}, {1 << 20, 1 << 20}}) {
    const auto done = run(io, page->focus_frames(kAsk, steps, each, checks::FrameSink{}));
    ASSERT_FALSE(done);
    EXPECT_EQ(done.error().code, ErrorCode::invalid_argument) << steps << " " << each;
  }
  for (const auto& [dark, lit] : {std::pair{0, 2}, {2, 0}, {8, 1}, {1, 15}, {-1, 4}, {1 << 30, 1 << 30}}) {
    const auto done = run(io, page->light_frames(kAsk, dark, lit, checks::FrameSink{}));
    ASSERT_FALSE(done);
    EXPECT_EQ(done.error().code, ErrorCode::invalid_argument) << dark << " " << lit;
  }
}
}  // namespace
}  // namespace hb::page::test
