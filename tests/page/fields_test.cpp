// Full-screen fields: what the page is asked for, and what is believed of its answers.
#include "tests/page/script.hpp"

namespace hb::page::test {
namespace {
using checks::Field;
using checks::FieldMarks;
using checks::FieldShow;
using checks::Mark;
using checks::MarkKind;

FieldShow two() {
  FieldShow s;
  s.fields = {Field::white, Field::crease};
  return s;
}
json end_of(const json& command) {
  json j = json::object();
  j["seq"] = command.at("seq"), j["ok"] = true, j["width"] = 1080, j["height"] = 2640;
  return j;
}
json mark(int kind, double x, double y, double w = 0, double h = 0) {
  json j = json::array();
  j.push_back(kind);
  for (const double v : {x, y, w, h}) j.push_back(v);
  return j;
}
json list_of(const json& one, int n = 1) {
  json all = json::array();
  for (int i = 0; i < n; ++i) all.push_back(one);
  return all;
}

std::vector<json> wrong_marks() {
  json three = json::array(), named = mark(0, 0.5, 0.5);
  three.push_back(0), three.push_back(0.5), three.push_back(0.5);
  named[0] = "a name";
  return {mark(4, 0.5, 0.5),    mark(-1, 0.5, 0.5),    mark(0, 1.01, 0.5), mark(0, 0.5, -0.01),
          mark(3, 0.5, 0.5, 2), json("all of a text"), std::move(three),   std::move(named)};
}

TEST_F(PageTest, MarksOfEachFieldArriveWithTheScreensSize) {
  json asked;
  play = [&asked](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& command = asked;
    command = co_await s->next();
    const std::uint64_t seq = command.at("seq");
    json first = list_of(mark(0, 0.25, 0.5));
    first.push_back(mark(3, 0.5, 0.75, 0.2, 0.1));
    static_cast<void>(co_await s->marks(seq, 1, list_of(mark(1, 1, 0))));
    static_cast<void>(co_await s->marks(seq, 0, first));
    static_cast<void>(co_await s->answer(end_of(command)));
  };
  open();
  const auto m = run(io, page->fields(two()));
  ASSERT_TRUE(m) << m.error().message();
  EXPECT_EQ(asked.at("do"), "fields");
  EXPECT_EQ(asked.at("fields"), json::parse(R"(["white","crease"])"));
  EXPECT_EQ(asked.at("most"), 32);
  EXPECT_EQ(m->width_px, 1080);
  EXPECT_EQ(m->height_px, 2640);
  const std::vector<std::vector<Mark>> expected{
      {{MarkKind::dot, 0.25, 0.5, 0, 0}, {MarkKind::patch, 0.5, 0.75, 0.2, 0.1}},
      {{MarkKind::column, 1, 0, 0, 0}}};
  EXPECT_EQ(m->marks, expected);
}

TEST_F(PageTest, MarksThatFitNoFormAreNotBelieved) {
  std::vector<int> got;
  play = [&got](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& all = got;
    const json c = co_await s->next();
    const std::uint64_t seq = c.at("seq");
    const auto wrong = wrong_marks();
    for (const auto& one : wrong) all.push_back(co_await s->marks(seq, 0, list_of(one)));
    all.push_back(co_await s->marks(seq, 0, list_of(mark(0, 0.5, 0.5), 33)));
    json none = json::object();
    all.push_back(co_await s->marks(seq, 0, none));
    all.push_back(co_await s->marks(seq, 2, list_of(mark(0, 0.5, 0.5))));      // no such field
    all.push_back(co_await s->marks(seq + 1, 0, list_of(mark(0, 0.5, 0.5))));  // no such command
    all.push_back(co_await s->marks(seq, 0, list_of(mark(0, 0.5, 0.5), 32)));
    all.push_back(co_await s->marks(seq, 0, list_of(mark(0, 0.5, 0.5))));  // there already
    all.push_back(co_await s->answer(end_of(c)));                          // one field is missing
    all.push_back(co_await s->marks(seq, 1, json::array()));
    json tiny = end_of(c);
    tiny["width"] = 3;
    all.push_back(co_await s->answer(tiny));
    static_cast<void>(co_await s->answer(end_of(c)));
  };
  open();
  const auto m = run(io, page->fields(two()));
  ASSERT_TRUE(m) << m.error().message();
  std::vector<int> expected(10, 400);
  expected.insert(expected.end(), {409, 409, 204, 409, 409, 204, 400});
  EXPECT_EQ(got, expected);
  EXPECT_EQ(m->marks[0].size(), 32u);
}

struct Why {
  const char* name;
  ErrorCode code;
};
class FieldsError : public PageTest, public testing::WithParamInterface<Why> {};
TEST_P(FieldsError, IsMappedToTheClosedListAndItsTextDropped) {
  play = [](std::shared_ptr<Script> s) -> net::awaitable<void> {
    const json c = co_await s->next();
    json reply = {{"seq", c.at("seq")}, {"ok", false}, {"why", GetParam().name}};
    static_cast<void>(co_await s->answer(reply));
  };
  open();
  const auto m = run(io, page->fields(two()));
  ASSERT_FALSE(m);
  EXPECT_EQ(m.error().code, GetParam().code);
  EXPECT_EQ(m.error().message().find(GetParam().name), std::string::npos);
}
INSTANTIATE_TEST_SUITE_P(Page, FieldsError,
                         testing::Values(Why{"Left", ErrorCode::refused},
                                         Why{"Turned", ErrorCode::unsupported},
                                         Why{"NotFullScreen", ErrorCode::unsupported},
                                         Why{"AbortError", ErrorCode::timed_out},
                                         Why{"PersonalNameOfSomebody", ErrorCode::unsupported}),
                         [](const auto& i) { return std::string(i.param.name); });

TEST_F(PageTest, FieldsThatNobodyFinishesTimeOutAfterTheTimeOfEach) {
  PageOptions o = patient();
  o.person = 100ms, o.field = 200ms;
  page = make_page(phone, o);
  open();
  const auto start = std::chrono::steady_clock::now();
  const auto m = run(io, page->fields(two()));
  ASSERT_FALSE(m);
  EXPECT_EQ(m.error().code, ErrorCode::timed_out);
  EXPECT_GE(std::chrono::steady_clock::now() - start, 490ms);
}

TEST_F(PageTest, FieldsThatAreNoLongerWantedEndAndTheNextCommandWorks) {
  play = [](std::shared_ptr<Script> s) -> net::awaitable<void> {
    static_cast<void>(co_await s->next());
    json second = co_await s->next();
    while (!second.is_object()) second = co_await s->next();
    json reply = {{"seq", second.at("seq")}, {"ok", true}, {"count", 2}};
    static_cast<void>(co_await s->answer(reply));
  };
  open();
  int asked = 0;
  FieldShow show = two();
  show.wanted = [&asked] { return ++asked < 3; };
  const auto m = run(io, page->fields(show));
  ASSERT_FALSE(m);
  EXPECT_EQ(m.error().code, ErrorCode::cancelled);
  EXPECT_EQ(run(io, page->cameras(checks::Facing::back)).value_or(-1), 2);
}

TEST_F(PageTest, APageLoadedAgainStartsTheFieldsAnewAndTheirEarlierMarksAreGone) {
  std::vector<int> got;
  play = [this, &got](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& all = got;
    auto& phone_here = phone;
    const std::string token = tokens.back();
    const json c = co_await s->next();
    const std::uint64_t seq = c.at("seq");
    all.push_back(co_await s->marks(seq, 0, list_of(mark(0, 0.5, 0.5))));
    const auto again = std::make_shared<Script>(phone_here, token, std::uint16_t{46080});
    static_cast<void>(co_await again->hello());
    all.push_back(co_await s->marks(seq, 1, json::array()));
    const json same = co_await again->next();
    all.push_back(co_await again->marks(seq, 0, json::array()));
    all.push_back(co_await again->marks(seq, 1, json::array()));
    static_cast<void>(co_await again->answer(end_of(same)));
  };
  open();
  const auto m = run(io, page->fields(two()));
  ASSERT_TRUE(m) << m.error().message();
  EXPECT_EQ(got, (std::vector<int>{204, 410, 204, 204}));
  EXPECT_TRUE(m->marks[0].empty());
}

TEST_F(PageTest, NoFieldsAndFramesForFieldsAreRefused) {
  open();
  FieldShow none, many;
  many.fields.assign(9, Field::red);
  for (const auto& show : {none, many})
    EXPECT_EQ(run(io, page->fields(show)).error().code, ErrorCode::invalid_argument);
  int frame = 0;
  play = [&frame](std::shared_ptr<Script> s) -> net::awaitable<void> {
    auto& status = frame;
    const json c = co_await s->next();
    status = co_await s->frame(c.at("seq"), 0, 32, 16, std::string(3 * 32 * 16, 'x'));
  };
  PageOptions o = patient();
  o.person = 300ms, o.field = 10ms;
  page = make_page(phone, o);
  open();
  EXPECT_FALSE(run(io, page->fields(two())));
  EXPECT_EQ(frame, 409);
}
}  // namespace
}  // namespace hb::page::test
