// The stand-in's small browser against the real page server, over real sockets and the debug link.
#include <fcntl.h>
#include <sys/stat.h>

#include <fstream>

#include "tests/browser/bench.hpp"
#include "tests/page/take.hpp"

namespace hb::standin::test {
namespace {
using checks::Facing;

class BuiltinBrowser : public testing::Test {
 protected:
  void start(page::PageOptions options = {}) {
    bench.phone_side.browser =
        Browser::builtin(bench.io, [this](bool front, int index) { return lens(front, index); });
    bench.connect(options);
  }
  std::optional<Lens> lens(bool front, int index) {
    if (on_lens) on_lens();
    if (front ? index > 0 : index > 1) return std::nullopt;
    if (missing_first_back && !front && index == 0) return std::nullopt;
    Lens l;
    l.seed = front ? 9 : 1 + static_cast<std::uint64_t>(index);
    if (!front && index == 0) l.focus = {.far_dpt = 0.1, .near_dpt = 10, .px_per_dpt = 0.7};
    return l;
  }
  Bench bench;
  bool missing_first_back = false;
  std::function<void()> on_lens;
};

TEST_F(BuiltinBrowser, FramesOfTheChartArriveOverTheLink) {
  start();
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  const auto back = bench.run(bench.page->cameras(Facing::back)),
             front = bench.run(bench.page->cameras(Facing::front));
  ASSERT_TRUE(back) << back.error().message();
  EXPECT_EQ(*back, 2);
  EXPECT_EQ(front.value_or(-1), 1);
  const auto frames = bench.run(page::test::take(*bench.page, Facing::back, 1, 1280, 960, 3));
  ASSERT_TRUE(frames) << frames.error().message();
  ASSERT_EQ(frames->size(), 3u);
  Lens expected;
  expected.seed = 2;
  for (std::size_t i = 0; i < 3; ++i) EXPECT_EQ((*frames)[i].rgb, render(expected, i).rgb);
  ASSERT_TRUE(bench.run(bench.page->close()));
  EXPECT_TRUE(bench.run_until([&] { return !bench.phone_side.browser->is_open(); }));
}

TEST_F(BuiltinBrowser, FocusFramesAreThoseOfTheLensWhereItWasSetAndAFixedLensOffersNone) {
  start();
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  std::vector<double> settings;
  std::vector<std::vector<std::uint8_t>> pixels;
  const checks::CameraAsk first{Facing::back, 0, 1280, 960}, second{Facing::back, 1, 1280, 960};
  checks::FrameSink sink = [&](int, const checks::Frame& f) {
    settings.push_back(f.focus_m), pixels.push_back(f.rgb);
  };
  const auto done = bench.run(bench.page->focus_frames(first, 3, 1, std::move(sink)));
  ASSERT_TRUE(done) << done.error().message();
  ASSERT_EQ(settings.size(), 3u);
  Lens l = *lens(false, 0);
  for (std::size_t i = 0; i < 3; ++i) {
    EXPECT_NEAR(1 / settings[i], 0.1 + 4.95 * static_cast<double>(i), 1e-6);
    l.focus.set_dpt = 0.1 + 4.95 * static_cast<double>(i);
    EXPECT_EQ(pixels[i], render(l, i).rgb);
  }
  const auto fixed = bench.run(bench.page->focus_frames(second, 3, 1, checks::FrameSink{}));
  ASSERT_FALSE(fixed);
  EXPECT_EQ(fixed.error().code, ErrorCode::unsupported);
}

TEST_F(BuiltinBrowser, NoPictureBeforeThePersonAllowedIt) {
  page::PageOptions o;
  o.person = 100ms, o.answer = 2s;
  start(o);
  ASSERT_TRUE(bench.run(bench.page->open()));
  const auto n = bench.run(bench.page->cameras(Facing::back));
  ASSERT_FALSE(n);
  EXPECT_EQ(n.error().code, ErrorCode::timed_out);
  bench.phone_side.browser->allow();
  EXPECT_EQ(bench.run(bench.page->cameras(Facing::back)).value_or(-1), 2);
}

TEST_F(BuiltinBrowser, APersonWhoTakesLongerThanAPageMayBeSilentHasNotClosedIt) {
  page::PageOptions o;
  o.silence = 400ms, o.poll = 50ms;
  start(o);
  Onlooker onlooker;
  onlooker.size_px = [] { return std::pair(1080, 2640); };
  onlooker.marks = [](const std::string&) { return std::vector<ScreenMark>{}; };
  bench.phone_side.browser->set_onlooker(onlooker);
  ASSERT_TRUE(bench.run(bench.page->open()));
  const auto later = [&](net::asio::steady_timer& t, auto deed) {
    t.expires_after(1s);
    t.async_wait([deed](const net::error_code&) { deed(); });
  };
  net::asio::steady_timer timer(bench.io);
  later(timer, [&] { bench.phone_side.browser->looked(); });
  checks::FieldShow show;
  show.fields = {checks::Field::white, checks::Field::black};
  const auto marks = bench.run(bench.page->fields(show));
  ASSERT_TRUE(marks) << marks.error().message();
  EXPECT_EQ(marks->height_px, 2640);
  later(timer, [&] { bench.phone_side.browser->allow(); });
  EXPECT_EQ(bench.run(bench.page->cameras(Facing::back)).value_or(-1), 2);
}

TEST_F(BuiltinBrowser, AMissingModuleIsNotFoundAndNotCounted) {
  missing_first_back = true;
  start();
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  EXPECT_EQ(bench.run(bench.page->cameras(Facing::back)).value_or(-1), 1);
  const auto frames = bench.run(page::test::take(*bench.page, Facing::back, 0, 1280, 960, 1));
  ASSERT_FALSE(frames);
  EXPECT_EQ(frames.error().code, ErrorCode::not_found);
}

TEST_F(BuiltinBrowser, ACablePulledDuringATakeIsLinkLost) {
  start();
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  ASSERT_TRUE(bench.run(bench.page->cameras(Facing::back)));
  on_lens = [this] { bench.daemon->pull(); };
  const auto frames = bench.run(page::test::take(*bench.page, Facing::back, 0, 1280, 960, 3), 15s);
  ASSERT_FALSE(frames);
  EXPECT_EQ(frames.error().code, ErrorCode::link_lost);
}

// Regular files that this process has open for writing, by /proc/self/fd (Linux proc(5)). A test runner may
// hand its own log on: what was open before does not count.
int files_open_for_writing() {
  int n = 0;
  for (const auto& entry : std::filesystem::directory_iterator("/proc/self/fd")) {
    const int fd = std::stoi(entry.path().filename().string());
    struct stat info {};
    if (::fstat(fd, &info) == 0 && S_ISREG(info.st_mode)) n += (::fcntl(fd, F_GETFL) & O_ACCMODE) != O_RDONLY;
  }
  return n;
}
std::size_t entries(const std::filesystem::path& folder) {
  const std::filesystem::recursive_directory_iterator all(folder), none;
  return static_cast<std::size_t>(std::distance(all, none));
}

TEST_F(BuiltinBrowser, ATakeWritesNoFileAnywhere) {
  const auto before_folder = std::filesystem::current_path();
  TempFolder place;
  std::filesystem::current_path(place.path());
  ::setenv("TMPDIR", place.path().c_str(), 1);
  const int inherited = files_open_for_writing();
  int most = 0, looks = 0;
  start();
  const auto before = entries(bench.folder.path());
  on_lens = [&] { most = std::max(most, files_open_for_writing()), ++looks; };
  ASSERT_TRUE(bench.run(bench.page->open()));
  bench.phone_side.browser->allow();
  const auto frames = bench.run(page::test::take(*bench.page, Facing::back, 0, 1280, 960, 2));
  ASSERT_TRUE(frames);
  ASSERT_TRUE(bench.run(bench.page->close()));
  std::filesystem::current_path(before_folder);
  ::unsetenv("TMPDIR");
  EXPECT_GT(looks, 0);
  EXPECT_EQ(most, inherited);
  EXPECT_EQ(entries(place.path()), 0u);
  EXPECT_EQ(entries(bench.folder.path()), before);
  std::ofstream(place.path() / "control") << 1;  // the count can see a file
  EXPECT_EQ(entries(place.path()), 1u);
}
}  // namespace
}  // namespace hb::standin::test
