// The conversation between harness and page, with the test as the phone's browser.
#include "tests/page/script.hpp"

#include "tests/page/take.hpp"

namespace hb::page::test {
namespace {
using checks::Facing;
using checks::Frame;

TEST_F(PageTest, OpensOnItsFixedPortAndOnlyOnce) {
  open(), open();
  EXPECT_EQ(phone.link_->asked, std::vector<std::uint16_t>{46080});
  ASSERT_EQ(tokens.size(), 1u);
  EXPECT_EQ(tokens[0].size(), 32u);
}

// A permission that the person gave to http://127.0.0.1:46080 held for whatever listened there later.
TEST_F(PageTest, TheHostIsOfOneRunAloneAndTheSameWhenThePageIsOpenedAgain) {
  open();
  ASSERT_TRUE(run(io, page->close()));
  open();
  ASSERT_EQ(phone.hosts.size(), 2u);
  EXPECT_EQ(phone.hosts[0], phone.hosts[1]);
  EXPECT_EQ(phone.hosts[0].size(), 21u) << phone.hosts[0];
  page = make_page(phone, patient());  // another run
  open();
  EXPECT_NE(phone.hosts[2], phone.hosts[0]);
  auto options = patient();
  options.host = phone.hosts[0];  // the first one, after its cable was pulled
  page = make_page(phone, options);
  open();
  EXPECT_EQ(phone.hosts[3], phone.hosts[0]);
}

TEST_F(PageTest, APortThatIsTakenIsReplacedByOneThePhoneChooses) {
  phone.link_->taken_port = 46080;
  open();
  EXPECT_EQ(phone.link_->asked, (std::vector<std::uint16_t>{46080, 0}));
}

TEST_F(PageTest, APageThatNeverSaysHelloIsTimedOutAndTheForwardRemoved) {
  phone.on_open = [](std::uint16_t, const std::string&) {};
  PageOptions o = patient();
  o.hello = 100ms;
  page = make_page(phone, o);
  const auto r = run(io, page->open());
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::timed_out);
  EXPECT_EQ(phone.link_->removed, std::vector<std::uint16_t>{46080});
}

TEST_F(PageTest, CountsCamerasThatFaceTheAskedWay) {
  play = [](std::shared_ptr<Script> s) -> net::awaitable<void> {
    const json c = co_await s->next();
    json reply = {
        {"seq", c.at("seq")}, {"ok", c.at("do") == "count" && c.at("facing") == "front"}, {"count", 3}};
    static_cast<void>(co_await s->answer(reply));
  };
  open();
  const auto n = run(io, page->cameras(Facing::front));
  ASSERT_TRUE(n);
  EXPECT_EQ(*n, 3);
}

TEST_F(PageTest, FramesArriveInOrderAsRgbWhetherSentAsRgbOrRgba) {
  play = [](std::shared_ptr<Script> s) -> net::awaitable<void> {
    const json c = co_await s->next();
    const std::uint64_t seq = c.at("seq");
    std::string rgb, rgba;
    for (int p = 0; p < 32 * 16; ++p) {
      const std::string pixel{static_cast<char>(p % 251), static_cast<char>(p % 7), static_cast<char>(200)};
      rgb += pixel, rgba += pixel + static_cast<char>(255);
    }
    static_cast<void>(co_await s->frame(seq, 1, 32, 16, rgba));
    static_cast<void>(co_await s->frame(seq, 0, 32, 16, rgb));
    json reply = {{"seq", seq}, {"ok", true}};
    static_cast<void>(co_await s->answer(reply));
  };
  open();
  const auto f = run(io, take(*page, Facing::back, 1, 32, 16, 2));
  ASSERT_TRUE(f) << f.error().message();
  ASSERT_EQ(f->size(), 2u);
  EXPECT_EQ((*f)[0].rgb, (*f)[1].rgb);
  EXPECT_EQ((*f)[0].t_ms, 0.5);
  EXPECT_EQ((*f)[1].t_ms, 10.5);
  EXPECT_EQ((*f)[1].width, 32);
  ASSERT_EQ((*f)[1].rgb.size(), 3u * 32 * 16);
  EXPECT_EQ((*f)[1].rgb[3 * 300], 300 % 251);
  EXPECT_EQ((*f)[1].rgb[3 * 300 + 1], 300 % 7);
}

TEST_F(PageTest, PhonesThatShareARoomTakeTheirPicturesInTurn) {
  // A camera of 32 x 16 needs 1536 bytes; the room holds one picture, so the second phone hears its command
  // when the first one's take is over.
  FakePhone other{io};
  PageOptions o = patient();
  o.room = std::make_shared<FrameRoom>(2000);
  page = make_page(phone, o);
  const auto second = make_page(other, o);
  std::vector<std::string> order;
  const auto player = [&order](std::string name) {
    return [&order, name](std::shared_ptr<Script> s) -> net::awaitable<void> {
      auto& said = order;
      const std::string who = name;
      json c = co_await s->next();
      while (!c.is_object()) c = co_await s->next();
      said.push_back(who + " asked");
      static_cast<void>(co_await net::pause(100ms));
      static_cast<void>(co_await s->frame(c.at("seq"), 0, 32, 16, std::string(3 * 32 * 16, 'x')));
      said.push_back(who + " sent");
      json reply = {{"seq", c.at("seq")}, {"ok", true}};
      static_cast<void>(co_await s->answer(reply));
    };
  };
  play = player("first");
  open();
  const auto play_second = player("second");
  other.on_open = [&](std::uint16_t port, std::string token) {
    net::co_spawn(
        io,
        [](std::shared_ptr<Script> s, Play p) -> net::awaitable<void> {
          const bool ok = co_await s->hello();
          if (ok) co_await p(s);
        }(std::make_shared<Script>(other, token, port), play_second),
        net::detached);
  };
  ASSERT_TRUE(run(io, second->open()));
  std::optional<Result<std::vector<Frame>>> a, b;
  net::co_spawn(io, keep(take(*page, Facing::back, 0, 32, 16, 1), &a), net::detached);
  net::co_spawn(io, keep(take(*second, Facing::back, 0, 32, 16, 1), &b), net::detached);
  ASSERT_TRUE(run_until(io, [&] { return a && b; }));
  EXPECT_TRUE(*a && *b);
  EXPECT_EQ(order, (std::vector<std::string>{"first asked", "first sent", "second asked", "second sent"}));
  EXPECT_EQ(o.room->free(), 2000u);
}

TEST_F(PageTest, APhoneThatGivesUpWaitingForTheRoomLeavesTheQueue) {
  const auto room = std::make_shared<FrameRoom>(100);
  auto held = run(io, room->take(500));  // more than all of it: all of it
  ASSERT_TRUE(held);
  EXPECT_EQ(room->free(), 0u);
  std::optional<Result<std::shared_ptr<void>>> quitter, waiter;
  net::asio::cancellation_signal stop;
  net::co_spawn(io, keep(room->take(50), &quitter),
                net::asio::bind_cancellation_slot(stop.slot(), net::detached));
  net::co_spawn(io, keep(room->take(60), &waiter), net::detached);
  static_cast<void>(run(io, net::pause(10ms)));
  stop.emit(net::asio::cancellation_type::all);
  static_cast<void>(run(io, net::pause(10ms)));
  EXPECT_FALSE(waiter.has_value());
  held->reset();
  ASSERT_TRUE(run_until(io, [&] { return waiter.has_value(); }));
  ASSERT_TRUE(*waiter);
  EXPECT_EQ(room->free(), 40u);
}

TEST_F(PageTest, OnlyFramesThatWereAskedForAreTaken) {
  std::vector<int> got;
  play = [&got](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& all = got;
    const json c = co_await s->next();
    const std::uint64_t seq = c.at("seq");
    const std::string bytes(3 * 32 * 16, 'x');
    const std::string cut(3 * 32 * 16 - 1, 'x');
    all.push_back(co_await s->frame(seq, 0, 32, 16, cut));
    all.push_back(co_await s->frame(seq, 0, 32, 16, bytes));
    json early = {{"seq", seq}, {"ok", true}};
    all.push_back(co_await s->answer(early));  // one of two is missing
  };
  open();
  std::optional<Result<std::vector<Frame>>> f;
  net::co_spawn(io, keep(take(*page, Facing::back, 0, 32, 16, 2), &f), net::detached);
  ASSERT_TRUE(run_until(io, [&] { return got.size() == 3; }));
  EXPECT_FALSE(f.has_value());
  EXPECT_EQ(got, (std::vector<int>{400, 204, 409}));
}

struct Why {
  const char* name;
  ErrorCode code;
};
class PageError : public PageTest, public testing::WithParamInterface<Why> {};
TEST_P(PageError, IsMappedToTheClosedListAndItsTextDropped) {
  play = [](std::shared_ptr<Script> s) -> net::awaitable<void> {
    const json c = co_await s->next();
    json reply = {{"seq", c.at("seq")}, {"ok", false}, {"why", GetParam().name}};
    static_cast<void>(co_await s->answer(reply));
  };
  open();
  const auto f = run(io, take(*page, Facing::back, 0, 640, 480, 1));
  ASSERT_FALSE(f);
  EXPECT_EQ(f.error().code, GetParam().code);
  EXPECT_EQ(f.error().message().find(GetParam().name), std::string::npos);
}
// Names: W3C Media Capture and Streams, getUserMedia(); Web IDL, DOMException names.
INSTANTIATE_TEST_SUITE_P(Page, PageError,
                         testing::Values(Why{"NotAllowedError", ErrorCode::refused},
                                         Why{"NotFoundError", ErrorCode::not_found},
                                         Why{"OverconstrainedError", ErrorCode::not_found},
                                         Why{"TimeoutError", ErrorCode::timed_out},
                                         Why{"NotReadableError", ErrorCode::unsupported},
                                         Why{"PersonalNameOfSomebody", ErrorCode::unsupported}),
                         [](const auto& i) { return std::string(i.param.name); });

TEST_F(PageTest, AnswersThatFitNoSchemaAreNotBelieved) {
  std::vector<int> got;
  play = [&got](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& all = got;
    const json c = co_await s->next();
    const std::uint64_t seq = c.at("seq");
    json too_many = {{"seq", seq}, {"ok", true}, {"count", 65}};
    all.push_back(co_await s->answer(too_many));
    json text_seq = {{"seq", std::to_string(seq)}, {"ok", true}, {"count", 1}};
    all.push_back(co_await s->answer(text_seq));
    json other_seq = {{"seq", seq + 1}, {"ok", true}, {"count", 1}};
    all.push_back(co_await s->answer(other_seq));
    const auto no_json = co_await s->request("POST", "answer", "{\"seq\":");
    all.push_back(no_json.status);
    const auto no_object = co_await s->request("POST", "answer", "[1]");
    all.push_back(no_object.status);
  };
  PageOptions o = patient();
  o.person = 100ms, o.answer = 400ms;
  page = make_page(phone, o);
  open();
  const auto n = run(io, page->cameras(Facing::back));
  ASSERT_FALSE(n);
  EXPECT_EQ(n.error().code, ErrorCode::timed_out);
  EXPECT_EQ(got, (std::vector<int>{400, 409, 409, 400, 400}));
}

TEST_F(PageTest, NobodyTapsStartSoTheCallTimesOutAndSaysWhatToDo) {
  PageOptions o = patient();
  o.person = 100ms, o.answer = 400ms;
  page = make_page(phone, o);
  open();
  const auto n = run(io, page->cameras(Facing::back));
  ASSERT_FALSE(n);
  EXPECT_EQ(n.error().code, ErrorCode::timed_out);
  EXPECT_NE(n.error().next.find("Start"), std::string::npos);
}

TEST_F(PageTest, AnAnswerAfterTheDeadlineChangesNothing) {
  std::vector<int> got;
  play = [&got](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& all = got;
    const json c = co_await s->next();
    static_cast<void>(co_await net::pause(1200ms));
    json reply = {{"seq", c.at("seq")}, {"ok", true}, {"count", 1}};
    all.push_back(co_await s->answer(reply));
  };
  PageOptions o = patient();
  o.person = 100ms, o.answer = 400ms;
  page = make_page(phone, o);
  open();
  EXPECT_FALSE(run(io, page->cameras(Facing::back)));
  ASSERT_TRUE(run_until(io, [&] { return !got.empty(); }));
  EXPECT_EQ(got[0], 409);
}

TEST_F(PageTest, APageThatFellSilentWasClosed) {
  PageOptions o = patient();
  o.silence = 300ms;
  page = make_page(phone, o);
  open();
  const auto n = run(io, page->cameras(Facing::back));
  ASSERT_FALSE(n);
  EXPECT_EQ(n.error().code, ErrorCode::timed_out);
  EXPECT_NE(n.error().what.find("closed"), std::string::npos);
  open();  // opened anew, with another token
  ASSERT_EQ(tokens.size(), 2u);
  EXPECT_NE(tokens[0], tokens[1]);
}

TEST_F(PageTest, APulledCableEndsTheWaitAsLinkLost) {
  PageOptions o = patient();
  o.person = 10s;
  page = make_page(phone, o);
  play = [this](std::shared_ptr<Script> s) -> net::awaitable<void> {
    static_cast<void>(co_await s->next());
    phone.link_->pull();
  };
  open();
  const auto n = run(io, page->cameras(Facing::back), 8s);
  ASSERT_FALSE(n);
  EXPECT_EQ(n.error().code, ErrorCode::link_lost);
  EXPECT_EQ(run(io, page->close()).error().code, ErrorCode::link_lost);
}

TEST_F(PageTest, CancelEndsTheWaitAtOnceAndTheNextCommandWorks) {
  PageOptions o = patient();
  o.person = 10s;
  page = make_page(phone, o);
  play = [](std::shared_ptr<Script> s) -> net::awaitable<void> {
    static_cast<void>(co_await s->next());
    const json second = co_await s->next();
    if (!second.is_object()) co_return;
    json reply = {{"seq", second.at("seq")}, {"ok", true}, {"count", 2}};
    static_cast<void>(co_await s->answer(reply));
  };
  open();
  const auto start = std::chrono::steady_clock::now();
  const auto cut = run(io, net::with_deadline(page->cameras(Facing::back), 30ms, "cut"));
  ASSERT_FALSE(cut);
  EXPECT_LT(std::chrono::steady_clock::now() - start, 5s);
  const auto n = run(io, page->cameras(Facing::back));
  ASSERT_TRUE(n) << n.error().message();
  EXPECT_EQ(*n, 2);
}

TEST_F(PageTest, APageLoadedAgainTakesOverAndGetsTheCommandAgain) {
  int old_tab = 0;
  play = [this, &old_tab](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& old_status = old_tab;
    auto& phone_here = phone;
    const std::string token = tokens.back();
    static_cast<void>(co_await s->next());
    const auto again = std::make_shared<Script>(phone_here, token, std::uint16_t{46080});
    static_cast<void>(co_await again->hello());
    const json old_reply = co_await s->next();
    old_status = old_reply.is_number() ? old_reply.get<int>() : 0;
    const json c = co_await again->next();
    json reply = {{"seq", c.at("seq")}, {"ok", true}, {"count", 1}};
    static_cast<void>(co_await again->answer(reply));
  };
  open();
  const auto n = run(io, page->cameras(Facing::back));
  ASSERT_TRUE(n) << n.error().message();
  EXPECT_EQ(old_tab, 410);
}

TEST_F(PageTest, CloseTellsThePageAndRemovesTheForward) {
  json last;
  play = [&last](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& heard = last;
    for (int i = 0; i < 100 && !heard.is_object(); ++i) heard = co_await s->next();
  };
  open();
  ASSERT_TRUE(run(io, page->close()));
  EXPECT_TRUE(run_until(io, [&] { return last.is_object(); }));
  EXPECT_EQ(last.value("do", ""), "stop");
  EXPECT_EQ(phone.link_->removed, std::vector<std::uint16_t>{46080});
  EXPECT_TRUE(run_until(io, [&] { return phone.link_->wires[0]->harness_closed; }));
  const auto n = run(io, page->cameras(Facing::back));
  ASSERT_FALSE(n);
  EXPECT_EQ(n.error().code, ErrorCode::invalid_argument);
}

TEST_F(PageTest, TakesOutsideTheBoundsAreRefusedBeforeThePhoneIsAsked) {
  open();
  for (const auto& [index, width, height, count] : {std::tuple{-1, 640, 480, 1},
                                                    {0, 8, 480, 1},
                                                    {0, 640, 5000, 1},
                                                    {0, 640, 480, 0},
                                                    {0, 640, 480, 17}}) {
    const auto f = run(io, take(*page, Facing::back, index, width, height, count));
    ASSERT_FALSE(f);
    EXPECT_EQ(f.error().code, ErrorCode::invalid_argument);
  }
}
}  // namespace
}  // namespace hb::page::test
