// The screens as a person in front of the page marks them.
#include "checks/panel/panel.hpp"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <functional>

#include "tests/checks/bench_fakes/bench_fakes.hpp"

namespace hb::checks {
namespace {
using fakes::Bench;
using fakes::find;
using testing::ElementsAre;
using K = MarkKind;
using F = Field;

Panel::Config folding() {
  Panel::Config c;
  c.displays = {{Term("inner"), 70, 171.1, 85.55, false}, {Term("outer"), 60, 62.3, 0, true}};
  return c;
}

std::vector<Limit> limits() {
  const auto o = LimitOrigin::common_practice;
  std::vector<Limit> all;
  for (const char* part : {"inner", "outer"}) {
    const auto at = [&](const char* key, double upper) {
      all.push_back({std::string("panel.observed_") + key, *ShopText::screened(part, "part"), {}, upper, o});
    };
    at("bright_dots", 0), at("dark_dots", 1), at("lines", 0), at("patches", 0);
    if (part == std::string("inner")) at("fold_marks", 0);
  }
  return all;
}

/// Marks of the inner panel by field.
using Marks = std::vector<std::pair<F, Mark>>;
Panel::Capture marked(const Marks& inner, const Marks& outer = {}) {
  Panel::Capture c;
  const auto config = folding();
  for (std::size_t i = 0; i < 2; ++i) {
    Panel::DisplayCapture d;
    d.part = config.displays[i].name.str();
    d.shown = Panel::Shown::yes;
    d.width_px = i == 0 ? 1080 : 720, d.height_px = i == 0 ? 2640 : 748;
    d.fields = Panel::fields_of(config.displays[i]);
    d.marks.resize(d.fields.size());
    for (const auto& [field, mark] : i == 0 ? inner : outer)
      d.marks.at(static_cast<std::size_t>(field)).push_back(mark);
    c.displays.push_back(std::move(d));
  }
  return c;
}
Marks on(std::initializer_list<F> fields, Mark mark) {
  Marks all;
  for (const F f : fields) all.emplace_back(f, mark);
  return all;
}
Marks operator+(Marks a, const Marks& b) {
  a.insert(a.end(), b.begin(), b.end());
  return a;
}

struct Row {
  const char* name;
  Marks inner, outer;
  Outcome outcome;
  std::vector<std::string> named;
};
class PanelTable : public testing::TestWithParam<Row> {};
TEST_P(PanelTable, IsJudgedAndNamed) {
  const auto c = marked(GetParam().inner, GetParam().outer);
  EXPECT_EQ(nlohmann::json(c).get<Panel::Capture>(), c) << "the journal keeps all of it";
  const auto r = fakes::judge<Panel>(c, folding(), limits());
  ASSERT_TRUE(r) << r.error().message();
  EXPECT_EQ(r->outcome, GetParam().outcome) << r->reason;
  EXPECT_EQ(fakes::named(r->findings), GetParam().named);
  for (const auto& v : r->verdicts)
    EXPECT_TRUE(v.measure.key.view().starts_with("panel.observed_")) << "said to be observed, not measured";
}
const Mark kDot{K::dot, 0.3, 0.2}, kBox{K::patch, 0.3, 0.2, 0.2, 0.1},
    kFoldBox{K::patch, 0.5, 0.5, 0.7, 0.05};
const std::initializer_list<F> kLit{F::white, F::red, F::green, F::blue, F::ramp, F::grey};
INSTANTIATE_TEST_SUITE_P(
    Situations, PanelTable,
    testing::Values(
        Row{"nothing_marked", {}, {}, Outcome::pass, {}},
        Row{"one_dark_dot_on_many_fields", on(kLit, kDot), {}, Outcome::pass, {}},
        Row{"two_dark_dots",
            on(kLit, kDot) + on(kLit, {K::dot, 0.7, 0.9}),
            {},
            Outcome::fail,
            {"pixels_dark inner"}},
        Row{"two_dark_dots_near_each_other_on_one_field",
            on({F::white}, kDot) + on({F::white}, {K::dot, 0.32, 0.2}),
            {},
            Outcome::fail,
            {"pixels_dark inner"}},
        Row{"a_bright_dot",
            on({F::black, F::green, F::blue}, kDot),
            {},
            Outcome::fail,
            {"pixels_stuck_on inner"}},
        Row{"a_dark_dot_on_the_fold",
            on(kLit, {K::dot, 0.3, 0.51}),
            {},
            Outcome::fail,
            {"fold_broken inner"}},
        Row{"a_column", on(kLit, {K::column, 0.3, 0.5}), {}, Outcome::fail, {"line_open inner"}},
        Row{"a_bright_column_crossing_the_fold",
            on({F::black}, {K::column, 0.3, 0.5}),
            {},
            Outcome::fail,
            {"line_open inner"}},
        Row{"a_row_on_the_fold",
            on({F::white}, {K::row, 0.3, 0.5}),
            {},
            Outcome::fail,
            {"fold_broken inner"}},
        Row{"a_row_elsewhere", on({F::white}, {K::row, 0.3, 0.7}), {}, Outcome::fail, {"line_open inner"}},
        Row{"a_greenish_patch",
            on({F::white, F::green, F::grey}, kBox),
            {},
            Outcome::fail,
            {"uneven_patch inner"}},
        Row{"a_spot_that_stays_dark", on(kLit, kBox), {}, Outcome::fail, {"pressure_spot inner"}},
        Row{"layers_lifted_at_the_fold",
            on({F::black, F::crease}, kFoldBox),
            {},
            Outcome::fail,
            {"fold_layers_lifted inner"}},
        Row{"a_dark_spot_on_the_fold", on(kLit, kFoldBox), {}, Outcome::fail, {"fold_broken inner"}},
        Row{"the_outer_screen_alone", {}, on(kLit, kBox), Outcome::fail, {"pressure_spot outer"}},
        Row{"both_screens",
            on({F::black}, kDot),
            on(kLit, {K::column, 0.5, 0.5}),
            Outcome::fail,
            {"pixels_stuck_on inner", "line_open outer"}}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(PanelFaults, ADotSeenOnSeveralFieldsIsOneWithItsSubPixelNamed) {
  struct Case {
    std::initializer_list<F> seen;
    Panel::Fault::Kind kind;
    int sub_pixels;
  };
  using Kind = Panel::Fault::Kind;
  for (const Case& k : {Case{{F::black, F::green, F::blue}, Kind::bright_dot, 1},
                        Case{{F::black, F::red, F::green, F::blue}, Kind::bright_dot, 7},
                        Case{{F::black}, Kind::bright_dot, 0}, Case{{F::white, F::red}, Kind::dark_dot, 1},
                        Case{{F::white, F::blue, F::red}, Kind::dark_dot, 5},
                        Case{{F::white, F::red, F::green, F::blue}, Kind::dark_dot, 7},
                        Case{{F::white}, Kind::dark_dot, 0}}) {
    Marks m;
    double shift = 0;  // a few millimetres from field to field
    for (const F f : k.seen) m.emplace_back(f, Mark{K::dot, 0.3 + shift, 0.2}), shift += 0.02;
    const auto all = Panel::faults(marked(m).displays[0], folding().displays[0], folding());
    ASSERT_EQ(all.size(), 1u);
    EXPECT_EQ(all[0].kind, k.kind);
    EXPECT_EQ(all[0].sub_pixels, k.sub_pixels);
  }
}

TEST(PanelFaults, LinesAreTheSameWhereverAlongThemTheyWereTapped) {
  const auto c = marked(on({F::white}, {K::column, 0.3, 0.1}) + on({F::red}, {K::column, 0.32, 0.9}) +
                        on({F::white}, {K::row, 0.1, 0.3}) + on({F::red}, {K::row, 0.9, 0.31}));
  EXPECT_EQ(Panel::faults(c.displays[0], folding().displays[0], folding()).size(), 2u);
}

TEST(PanelMeasure, TheAreaOfASpotIsItsEllipseWithTheFingersUncertainty) {
  const auto m = Panel::measure(marked(on({F::white}, kBox)), folding());
  ASSERT_TRUE(m);
  const auto* area = find(*m, "panel.observed_patch_area_mm2", "inner");
  ASSERT_NE(area, nullptr);
  // Box 14.0 x 17.11 mm; each side u = sqrt(2) * 7 / 4.133 mm.
  EXPECT_NEAR(area->value, 188.1343, 1e-3);
  EXPECT_NEAR(area->u, 41.5893, 1e-3);
  EXPECT_EQ(find(*m, "panel.observed_fold_marks", "outer"), nullptr);
}

TEST(PanelDiagnosis, BrightDotsInOnePlaceLookLikeABlow) {
  Marks near, far;
  for (int i = 0; i < 3; ++i) {
    near.emplace_back(F::black, Mark{K::dot, 0.2 + 0.1 * i, 0.1});
    far.emplace_back(F::black, Mark{K::dot, 0.2 + 0.1 * i, 0.1 + 0.2 * i});
  }
  const auto says = [](const Marks& m) {
    return fakes::judge<Panel>(marked(m), folding(), limits())->findings.at(0).says.str();
  };
  EXPECT_NE(says(near).find("close together"), std::string::npos);
  EXPECT_NE(says(far).find("Single pixels"), std::string::npos);
}

// ------------------------------------------------------------------------------------------- acquiring

class FakePage final : public PagePort {
 public:
  explicit FakePage(Bench& b) : bench(b) {}
  Bench& bench;
  std::function<Result<FieldMarks>(int call, const FieldShow&)> on_fields;
  bool waits_for_hands = true, closed_again = false;
  std::optional<ErrorCode> open_fails;
  int calls = 0, opened = 0;
  bool hands_were_done = false;

  net::awaitable<Result<void>> open() override {
    if (open_fails) co_return Error{*open_fails, "no", "", ""};
    ++opened;
    co_return Result<void>{};
  }
  net::awaitable<Result<int>> cameras(Facing) override { co_return 0; }
  net::awaitable<Result<void>> frames(Facing, int, int, int, int, FrameSink) override {
    co_return Error{ErrorCode::unsupported, "not in this test", "", ""};
  }
  net::awaitable<Result<FieldMarks>> fields(FieldShow show) override {
    while (waits_for_hands && show.wanted()) {
      const auto done = co_await bench.hands.done();
      hands_were_done = done && *done;
      if (hands_were_done) break;
      const auto paused = co_await net::pause(net::milliseconds(1));
      if (!paused) co_return paused.error();
    }
    if (!show.wanted()) co_return Error{ErrorCode::cancelled, "no longer wanted", "", ""};
    co_return on_fields(calls++, show);
  }
  net::awaitable<Result<void>> close() override {
    closed_again = true;
    co_return Result<void>{};
  }
};

Result<FieldMarks> clean(int call, const FieldShow& show) {
  FieldMarks m;
  m.width_px = call == 0 ? 1080 : 720, m.height_px = call == 0 ? 2640 : 748;
  m.marks.resize(show.fields.size());
  return m;
}

struct Stage {
  Bench bench;
  FakePage page{bench};
  Stage() {
    bench.context.page = &page;
    page.on_fields = clean;
    bench.hands.seconds = [](const Action& a) {
      const auto* m = std::get_if<MarkFields>(&a);
      return m != nullptr ? 2.5 * m->fields : 1;
    };
  }
  Result<Panel::Capture> acquire() { return fakes::run(Panel{}.acquire(bench.context, folding())); }
};

TEST(PanelAcquire, LooksAtBothScreensClosesThePhoneForTheOuterAndOpensItAgain) {
  Stage s;
  const auto c = s.acquire();
  ASSERT_TRUE(c) << c.error().message();
  std::vector<Term> names;
  for (const auto& action : s.bench.hands.actions) names.push_back(name(action));
  ASSERT_THAT(names, ElementsAre(MarkFields::name, Fold::name, MarkFields::name, Unfold::name));
  EXPECT_EQ(std::get<MarkFields>(s.bench.hands.actions[0]).fields, 8);
  EXPECT_EQ(std::get<MarkFields>(s.bench.hands.actions[2]).fields, 7) << "no crease to look at";
  EXPECT_EQ(s.page.opened, 2) << "the page is opened anew on the other screen";
  EXPECT_TRUE(s.page.hands_were_done);
  ASSERT_EQ(c->displays.size(), 2u);
  for (const auto& d : c->displays) EXPECT_EQ(d.shown, Panel::Shown::yes);
}

TEST(PanelAcquire, AnAnswerFromThePageEndsThePrompt) {
  Stage s;
  s.page.waits_for_hands = false;
  s.bench.hands.seconds = [](const Action& a) { return std::holds_alternative<MarkFields>(a) ? 500.0 : 1; };
  ASSERT_TRUE(s.acquire());
  EXPECT_EQ(s.bench.hands.enoughs, 2);
  EXPECT_LT(s.bench.clock.now(), std::chrono::seconds(10));
}

struct Refusal {
  const char* name;
  std::function<void(FakePage&)> how;
  const char* reason;
};
class PanelRefused : public testing::TestWithParam<Refusal> {};
TEST_P(PanelRefused, IsNotTestedWithAReason) {
  Stage s;
  GetParam().how(s.page);
  const auto c = s.acquire();
  ASSERT_TRUE(c) << c.error().message();
  const auto r = fakes::judge<Panel>(*c, folding(), limits());
  ASSERT_TRUE(r);
  EXPECT_EQ(r->outcome, Outcome::not_tested);
  EXPECT_NE(r->reason.find(GetParam().reason), std::string::npos) << r->reason;
}
auto failing(ErrorCode code) {
  return [code](FakePage& p) {
    p.on_fields = [code](int, const FieldShow&) { return Error{code, "no", "", ""}; };
  };
}
INSTANTIATE_TEST_SUITE_P(
    Situations, PanelRefused,
    testing::Values(
        Refusal{"left_out", failing(ErrorCode::refused), "left out"},
        Refusal{"not_filled", failing(ErrorCode::unsupported), "did not fill"},
        Refusal{"too_late", failing(ErrorCode::timed_out), "in time"},
        Refusal{"not_opened", [](FakePage& p) { p.open_fails = ErrorCode::timed_out; }, "could not open"},
        Refusal{"outer_alone_left_out",
                [](FakePage& p) {
                  p.on_fields = [](int call, const FieldShow& show) -> Result<FieldMarks> {
                    if (call == 1) return Error{ErrorCode::refused, "no", "", ""};
                    return clean(call, show);
                  };
                },
                "left out"},
        Refusal{"shown_on_the_inner_screen_twice",
                [](FakePage& p) { p.on_fields = [](int, const FieldShow& show) { return clean(0, show); }; },
                "another screen"}),
    [](const auto& i) { return std::string(i.param.name); });

TEST(PanelAcquire, ALostLinkIsHandedOnAndSoAreHandsThatAreGone) {
  Stage s;
  failing(ErrorCode::link_lost)(s.page);
  EXPECT_EQ(s.acquire().error().code, ErrorCode::link_lost);
  Bench no_page;
  EXPECT_EQ(fakes::run(Panel{}.acquire(no_page.context, folding())).error().code, ErrorCode::unsupported);
}

TEST(PanelMeasure, AFaultOnOneScreenFailsThoughTheOtherWasNotShown) {
  auto c = marked(on({F::black}, kDot));
  c.displays[1] = {"outer", Panel::Shown::left_out, 0, 0, {}, {}};
  const auto r = fakes::judge<Panel>(c, folding(), limits());
  ASSERT_TRUE(r);
  EXPECT_EQ(r->outcome, Outcome::fail);
}

TEST(PanelMeasure, ATornCaptureIsRefused) {
  const std::function<void(Panel::Capture&)> tears[] = {
      [](auto& c) { c.displays.pop_back(); },
      [](auto& c) { c.displays[0].part = "outer"; },
      [](auto& c) { c.displays[0].marks.pop_back(); },
      [](auto& c) { c.displays[0].fields[0] = static_cast<F>(9); },
      [](auto& c) { c.displays[0].fields.pop_back(), c.displays[0].marks.pop_back(); },
      [](auto& c) { c.displays[0].shown = static_cast<Panel::Shown>(17); },
      [](auto& c) {
        c.displays[0].marks[0].push_back({static_cast<K>(4), 0.5, 0.5});
      },
      [](auto& c) {
        c.displays[0].marks[0].push_back({K::dot, std::nan(""), 0.5});
      },
      [](auto& c) {
        c.displays[0].marks[0].push_back({K::patch, 0.5, 0.5, 1.5, 0});
      },
      [](auto& c) { c.displays[0].marks[0].assign(33, kDot); }};
  for (const auto& tear : tears) {
    auto c = marked({});
    tear(c);
    EXPECT_EQ(Panel::measure(c, folding()).error().code, ErrorCode::bad_format);
  }
}

TEST(PanelConfigure, TakesTheFoldFromTheTouchRangeAndKnowsWhichScreenIsLitWhenClosed) {
  Sections s;
  const auto add = [&](const char* name, double w, double h, int max_y, double fold) {
    Section d;
    d.name = *ShopText::screened(name, "name");
    d.values = {{"width_mm", w}, {"height_mm", h}, {"touch_max_y", max_y}};
    if (fold > 0) d.values["fold_y_px"] = fold;
    s.all.emplace_back("display", d);
  };
  EXPECT_FALSE(Panel::configure(s));
  add("inner", 70, 171.1, 2639, 1320);
  add("outer", 60, 62.3, 747, 0);
  const auto c = Panel::configure(s);
  ASSERT_TRUE(c);
  EXPECT_NEAR(c->displays[0].fold_mm, 85.55, 1e-9);
  EXPECT_FALSE(c->displays[0].closed);
  EXPECT_TRUE(c->displays[1].closed);
  add("beyond", 60, 62.3, 747, 800);
  EXPECT_EQ(Panel::configure(s).error().code, ErrorCode::invalid_argument);
}
}  // namespace
}  // namespace hb::checks
