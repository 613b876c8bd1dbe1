// The QR code of a sheet read from pictures: a drawn page, and what a phone's camera makes of it.
#include <cmath>
#include <numbers>
#include <random>

#include "programs.hpp"
#include "reports/sheet/qr_picture.hpp"
#include "sealed_samples.hpp"

namespace hb::sheet {
namespace {

std::string drawn(const std::string& pdf, const std::string& how) {
  const OnDisk disk(pdf);
  EXPECT_EQ(
      run("pdftoppm -singlefile " + how + " " + disk.path("sheet.pdf") + " " + disk.path("page")).status, 0);
  return slurped(disk.path(how.find("-jpeg") != std::string::npos ? "page.jpg" : "page.png"));
}

/// What a hand-held camera does: the paper lies turned in the frame, the lamp stands at one side, the lens
/// blurs over `blur` pixels and the sensor adds noise.
GreyPicture photographed(const GreyPicture& page, double turn_deg, double blur, double noise) {
  const double a = turn_deg * std::numbers::pi / 180, c = std::cos(a), s = std::sin(a);
  GreyPicture out{page.width, page.height, std::vector<std::uint8_t>(page.pixels.size())};
  std::mt19937 random(11);
  std::normal_distribution<double> sensor(0, noise);
  const auto at = [&](double x, double y) -> double {
    const auto ix = static_cast<long>(std::floor(x)), iy = static_cast<long>(std::floor(y));
    if (ix < 0 || iy < 0 || ix >= long{page.width} || iy >= long{page.height}) return 90;  // the bench
    return page.pixels[static_cast<std::size_t>(iy) * page.width + static_cast<std::size_t>(ix)];
  };
  const double cx = page.width / 2.0, cy = page.height / 2.0;
  for (unsigned y = 0; y < out.height; ++y)
    for (unsigned x = 0; x < out.width; ++x) {
      const double dx = x - cx, dy = y - cy, px = cx + c * dx + s * dy, py = cy - s * dx + c * dy;
      double sum = 0;
      for (const double u : {-blur, 0.0, blur})
        for (const double v : {-blur, 0.0, blur}) sum += at(px + u, py + v);
      const double light = 0.45 + 0.4 * x / out.width;
      out.pixels[std::size_t{y} * out.width + x] =
          static_cast<std::uint8_t>(std::clamp(sum / 9 * light + sensor(random), 0.0, 255.0));
    }
  return out;
}

TEST(Photo, GivesTheTextOfTheCodeBack) {
  NEED("pdftoppm");
  const SealedSample s("petal_fold_dead");
  const std::string pdf = s.pdf();
  struct Row {
    const char *name, *how;
    double turn, blur, noise;
  };
  const Row rows[] = {{"drawn", "-r 200 -png", 0, 0, 0},
                      {"drawn in grey", "-r 150 -gray -png", 0, 0, 0},
                      {"a scan", "-r 300 -jpeg", 0.7, 1, 4},
                      {"a photo, turned and dim", "-r 300 -jpeg", 8, 1, 6},
                      {"a photo upside down", "-r 220 -jpeg", 184, 0.8, 5}};
  for (const auto& row : rows) {
    auto picture = decode_picture(drawn(pdf, row.how));
    ASSERT_TRUE(picture) << row.name << picture.error().message();
    if (row.noise > 0) picture = photographed(*picture, row.turn, row.blur, row.noise);
    const auto texts = qr_texts(*picture);
    ASSERT_TRUE(texts) << row.name;
    ASSERT_EQ(texts->size(), 1U) << row.name;
    EXPECT_EQ(texts->front(), s.in.qr_text) << row.name;
  }
}

TEST(Photo, WithoutACodeGivesNothing) {
  GreyPicture grey{640, 480, std::vector<std::uint8_t>(640 * 480, 128)};
  EXPECT_TRUE(qr_texts(grey).value().empty());
  grey.pixels.pop_back();
  EXPECT_EQ(qr_texts(grey).error().code, ErrorCode::bad_format);
}

TEST(Photo, TornAndHostilePicturesAreRefused) {
  NEED("pdftoppm");
  const std::string pdf = SealedSample("petal_pass").pdf();
  for (const char* how : {"-r 40 -png", "-r 40 -jpeg"}) {
    const std::string good = drawn(pdf, how);
    ASSERT_TRUE(decode_picture(good));
    for (std::size_t cut = 0; cut < good.size(); cut += good.size() / 40 + 1)
      EXPECT_FALSE(decode_picture(std::string_view(good).substr(0, cut))) << how << cut;
    std::mt19937 random(3);
    for (int i = 0; i < 200; ++i) {
      std::string bad = good;
      for (int k = 0; k < 4; ++k) bad[random() % bad.size()] = static_cast<char>(random());
      (void)decode_picture(bad).has_value();  // either answer; only no crash and no flood
    }
  }
  // A PNG that claims 30001 x 30001 pixels (ISO/IEC 15948, 11.2.2): refused before anything is allocated.
  const std::string bomb =
      std::string("\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\x75\x31\0\0\x75\x31\x08\0\0\0\0", 29) +
      std::string("\x16\x35\x0f\x26", 4);
  EXPECT_FALSE(decode_picture(bomb));
  EXPECT_FALSE(decode_picture("GIF89a"));
}
}  // namespace
}  // namespace hb::sheet
