// The full-screen fields in a real Chromium: what is on the screen, read from pictures of it that stay in
// memory, and where taps arrive.
#include <png.h>

#include "harness/base/encoding.hpp"
#include "tests/browser/chromium_page.hpp"

namespace hb::standin::test {
namespace {
using checks::Field;
using checks::MarkKind;
using Colour = std::array<int, 3>;

struct Screen {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;
  [[nodiscard]] Colour at(double fx, double fy) const {
    const auto x = static_cast<std::size_t>(fx * (width - 1)),
               y = static_cast<std::size_t>(fy * (height - 1));
    const std::size_t i = 3 * (y * static_cast<std::size_t>(width) + x);
    return {rgb[i], rgb[i + 1], rgb[i + 2]};
  }
};

class ChromiumFields : public ChromiumPage {
 protected:
  void SetUp() override {
    ChromiumPage::SetUp();
    if (!program.empty()) open({});
  }
  void show(std::vector<Field> which) {
    checks::FieldShow s;
    s.fields = std::move(which);
    net::co_spawn(bench.io, keep(bench.page->fields(std::move(s)), &answer), net::detached);
    ASSERT_TRUE(
        until("document.querySelector('#fields').dataset.stage === 'intro'"
              " && !document.querySelector('#fields').hidden"));
  }
  bool until(const std::string& script) {
    for (int i = 0; i < 200; ++i) {
      const auto r = bench.run(devtools->evaluate(script));
      if (r && r->is_boolean() && r->get<bool>()) return true;
      static_cast<void>(bench.run(net::pause(25ms)));
    }
    return false;
  }
  void press(const std::string& selector) {
    const auto at = bench.run(devtools->evaluate(
        "(() => { const r = document.querySelector('" + selector +
        "').getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()"));
    ASSERT_TRUE(at && at->is_array()) << selector;
    tap(at->at(0).get<double>(), at->at(1).get<double>());
  }
  void tap(double x, double y) { ASSERT_TRUE(bench.run(devtools->tap(x, y))); }
  bool at_field(const std::string& name) {
    return until(
        "document.querySelector('#fields').dataset.stage === 'field' &&"
        " document.querySelector('#field').dataset.field === '" +
        name + "'");
  }
  Screen look() {
    Screen s;
    const auto r = bench.run(devtools->call("Page.captureScreenshot", nlohmann::json::object()));
    if (!r) return s;
    std::string text = r->value("data", "");
    std::replace(text.begin(), text.end(), '+', '-');
    std::replace(text.begin(), text.end(), '/', '_');
    while (text.ends_with('=')) text.pop_back();
    const auto bytes = from_base64url(text);
    png_image image{};
    image.version = PNG_IMAGE_VERSION;
    if (!bytes || !png_image_begin_read_from_memory(&image, bytes->data(), bytes->size())) return s;
    image.format = PNG_FORMAT_RGB;
    s.width = static_cast<int>(image.width), s.height = static_cast<int>(image.height);
    s.rgb.resize(PNG_IMAGE_SIZE(image));
    if (!png_image_finish_read(&image, nullptr, s.rgb.data(), 0, nullptr)) s = {};
    return s;
  }
  std::optional<Result<checks::FieldMarks>> answer;
};

TEST_F(ChromiumFields, FillTheScreenFromEdgeToEdgeInTheirColours) {
  const std::vector<std::pair<Field, Colour>> plain{
      {Field::white, {255, 255, 255}}, {Field::black, {0, 0, 0}},  {Field::red, {255, 0, 0}},
      {Field::green, {0, 255, 0}},     {Field::blue, {0, 0, 255}}, {Field::grey, {128, 128, 128}}};
  std::vector<Field> all;
  for (const auto& p : plain) all.push_back(p.first);
  all.push_back(Field::ramp), all.push_back(Field::crease);
  show(all);
  shot("fields_intro");
  press("#fields-begin");
  for (const auto& [field, colour] : plain) {
    const std::string name = checks::name(field).str();
    ASSERT_TRUE(at_field(name));
    shot("field_" + name);
    for (const bool top : {false, true}) {  // the bar hides one end of the screen at a time
      const Screen s = look();
      ASSERT_EQ(s.width, 720);
      ASSERT_EQ(s.height, 1480);
      for (const double x : {0.0, 0.5, 1.0}) {
        EXPECT_EQ(s.at(x, 0.5), colour) << name;
        EXPECT_EQ(s.at(x, top ? 1 : 0), colour) << name << (top ? " bottom edge" : " top edge");
      }
      if (!top) press("#fields-move");
    }
    press("#fields-move");
    press("#fields-next");
  }
  ASSERT_TRUE(at_field("ramp"));
  shot("field_ramp");
  const Screen ramp = look();
  for (const double y : {0.05, 0.25, 0.5, 0.75}) EXPECT_NEAR(ramp.at(0.5, y)[0], 255 * y, 2) << y;
  press("#fields-next");
  ASSERT_TRUE(at_field("crease"));
  shot("field_crease");
  const Screen crease = look();  // a line each 12 CSS px, 2 px wide; this screen has 2 pixels to one
  int lines = 0;
  for (int x = 1; x < crease.width; ++x) {
    const double before = (x - 1.0) / (crease.width - 1), here = static_cast<double>(x) / (crease.width - 1);
    lines += crease.at(before + 1e-9, 0.3)[0] < 64 && crease.at(here + 1e-9, 0.3)[0] > 192 ? 1 : 0;
    EXPECT_EQ(crease.at(here + 1e-9, 0.3), crease.at(here + 1e-9, 0.6));
  }
  EXPECT_EQ(lines, 30);
  press("#fields-next");
  ASSERT_TRUE(bench.run_until([&] { return answer.has_value(); }));
  ASSERT_TRUE(*answer) << answer->error().message();
  EXPECT_EQ((*answer)->width_px, 720);
  EXPECT_EQ((*answer)->height_px, 1480);
  EXPECT_TRUE(until("document.fullscreenElement === null && document.querySelector('#fields').hidden"));
}

TEST_F(ChromiumFields, TapsArriveWhereTheyWereAndASecondOneTakesAMarkAway) {
  show({Field::white, Field::black});
  press("#fields-begin");
  ASSERT_TRUE(at_field("white"));
  tap(90, 185);   // stays
  tap(180, 370);  // is taken away, 20 px beside it
  tap(200, 370);
  press("#fields-bar [data-kind=\"1\"]");
  tap(270, 300);
  shot("field_white_marked");
  press("#fields-next");
  ASSERT_TRUE(at_field("black"));
  press("#fields-bar [data-kind=\"3\"]");
  // A finger draws a box.
  const auto finger = [&](const char* type, double x, double y) {
    nlohmann::json p;
    p["type"] = type, p["x"] = x, p["y"] = y, p["button"] = "left", p["buttons"] = 1, p["clickCount"] = 1;
    ASSERT_TRUE(bench.run(devtools->call("Input.dispatchMouseEvent", p)));
  };
  finger("mousePressed", 36, 74), finger("mouseMoved", 70, 100), finger("mouseReleased", 108, 148);
  shot("field_black_marked");
  press("#fields-next");
  ASSERT_TRUE(bench.run_until([&] { return answer.has_value(); }));
  ASSERT_TRUE(*answer) << answer->error().message();
  const std::vector<std::vector<checks::Mark>> expected{
      {{MarkKind::dot, 0.25, 0.25, 0, 0}, {MarkKind::column, 0.75, 0.4054, 0, 0}},
      {{MarkKind::patch, 0.2, 0.15, 0.2, 0.1}}};
  EXPECT_EQ((*answer)->marks, expected);
}

TEST_F(ChromiumFields, MarksAreSeenOnEveryField) {
  show({Field::white, Field::black, Field::grey, Field::blue});
  press("#fields-begin");
  for (const char* name : {"white", "black", "grey", "blue"}) {
    ASSERT_TRUE(at_field(name));
    const auto before = look();
    tap(180, 370);
    const auto after = look();
    int most = 0;  // along a line through the mark
    for (int px = 120; px < 240; ++px) {
      const Colour a = before.at(px / 360.0, 0.5), b = after.at(px / 360.0, 0.5);
      for (std::size_t c = 0; c < 3; ++c) most = std::max(most, std::abs(a[c] - b[c]));
    }
    EXPECT_GE(most, 48) << name;
    press("#fields-next");
  }
  ASSERT_TRUE(bench.run_until([&] { return answer.has_value(); }));
  EXPECT_TRUE(*answer);
}

TEST_F(ChromiumFields, APersonWhoLeavesFullScreenGoesOnWithTheSameField) {
  show({Field::white, Field::black});
  press("#fields-begin");
  ASSERT_TRUE(at_field("white"));
  press("#fields-next");
  ASSERT_TRUE(at_field("black"));
  tap(90, 185);
  static_cast<void>(bench.run(devtools->evaluate("document.exitFullscreen()")));
  ASSERT_TRUE(until("document.querySelector('#fields').dataset.stage === 'intro'"));
  press("#fields-begin");
  ASSERT_TRUE(at_field("black"));
  press("#fields-next");
  ASSERT_TRUE(bench.run_until([&] { return answer.has_value(); }));
  ASSERT_TRUE(*answer) << answer->error().message();
  EXPECT_EQ((*answer)->marks[1].size(), 1u);
}

TEST_F(ChromiumFields, LeftOutIsRefusedAndThePageIsReadyForMore) {
  show({Field::white});
  press("#fields-refuse");
  ASSERT_TRUE(bench.run_until([&] { return answer.has_value(); }));
  ASSERT_FALSE(*answer);
  EXPECT_EQ(answer->error().code, ErrorCode::refused);
  answer.reset();
  show({Field::red});
  press("#fields-begin");
  ASSERT_TRUE(at_field("red"));
  press("#fields-next");
  ASSERT_TRUE(bench.run_until([&] { return answer.has_value(); }));
  EXPECT_TRUE(*answer);
}
}  // namespace
}  // namespace hb::standin::test
