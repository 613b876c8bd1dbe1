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

TEST(Photo, OfEveryFormThatPhonesAndScannersWriteGivesTheCode) {
  NEED("pdftoppm");
  NEED("convert");
  NEED("tiff2pdf");
  const SealedSample s("petal_pass");
  const OnDisk disk(s.pdf());
  const auto make = [&](const std::string& command) {
    const auto r = run("cd " + disk.path("") + " && " + command);
    ASSERT_EQ(r.status, 0) << command << r.out;
  };
  make("pdftoppm -r 200 -png -singlefile sheet.pdf page");
  make("convert page.png -threshold 60% -compress Group4 fax.tiff");
  make("convert page.png -compress Fax g3.tiff && convert page.png -quality 85 -compress JPEG jpeg.tiff");
  make("convert page.png -compress LZW lzw.tiff && convert -size 200x200 xc:white page.png pages.tiff");
  const char* pictures[] = {"page.png -quality 80 page.jpeg",
                            "page.png -quality 80 page.webp",
                            "page.png -define webp:lossless=true lossless.webp",
                            "page.png page.bmp",
                            "page.png -type Palette -compress None BMP3:palette.bmp",
                            "page.png page.gif",
                            "page.png -transparent white clear.png"};
  for (const char* p : pictures) make(std::string("convert ") + p);
  make("tiff2pdf -o fax.pdf fax.tiff && tiff2pdf -o g3.pdf g3.tiff && tiff2pdf -z -o zip.pdf lzw.tiff");
  make("convert page.png -colorspace Gray grey.tiff && tiff2pdf -j -q 80 -o jpeg.pdf grey.tiff");
  make(
      "convert page.png -type Palette -compress None palette.tiff && tiff2pdf -z -o palette.pdf "
      "palette.tiff");
  for (const char* name : {"page.jpeg", "page.webp", "lossless.webp", "page.bmp", "palette.bmp", "page.gif",
                           "clear.png", "fax.tiff", "g3.tiff", "jpeg.tiff", "lzw.tiff", "pages.tiff"}) {
    const auto bytes = slurped(disk.path(name));
    EXPECT_TRUE(is_picture(bytes)) << name;
    const auto texts = codes_in_picture(bytes);
    ASSERT_TRUE(texts) << name << texts.error().message();
    ASSERT_EQ(texts->size(), 1U) << name;
    EXPECT_EQ(texts->front(), s.in.qr_text) << name;
  }
  for (const char* name : {"fax.pdf", "g3.pdf", "zip.pdf", "jpeg.pdf", "palette.pdf"}) {
    const auto codes = codes_in_pdf(slurped(disk.path(name)));
    ASSERT_TRUE(codes) << name;
    ASSERT_EQ(codes->texts.size(), 1U)
        << name << " pictures " << codes->pictures << " unread " << codes->unread;
    EXPECT_EQ(codes->texts.front(), s.in.qr_text) << name;
  }
}

TEST(Photo, HostileFilesOfTheOtherFormsAreRefusedBeforeTheirPixels) {
  NEED("pdftoppm");
  NEED("convert");
  NEED("tiff2pdf");
  using namespace std::string_literals;
  const OnDisk disk(SealedSample("petal_pass").pdf());
  const auto r =
      run("cd " + disk.path("") +
          " && pdftoppm -r 30 -png -singlefile sheet.pdf page && for f in webp gif bmp tiff; do convert "
          "page.png page.$f; done && convert page.png -threshold 60% -compress Group4 fax.tiff && tiff2pdf "
          "-o fax.pdf fax.tiff && tiff2pdf -z -o zip.pdf page.tiff");
  ASSERT_EQ(r.status, 0) << r.out;
  std::mt19937 random(5);
  for (const char* name :
       {"page.webp", "page.gif", "page.bmp", "page.tiff", "fax.tiff", "fax.pdf", "zip.pdf"}) {
    const std::string good = slurped(disk.path(name));
    const bool pdf = std::string(name).ends_with("pdf");
    const auto tried = [&](std::string_view bytes) {
      return pdf ? codes_in_pdf(bytes).has_value() : codes_in_picture(bytes).has_value();
    };
    ASSERT_TRUE(tried(good)) << name;
    for (std::size_t cut = 0; cut < good.size(); cut += good.size() / 20 + 1)
      (void)tried(std::string_view(good).substr(0, cut));  // either answer; only no crash and no flood
    for (int i = 0; i < 100; ++i) {
      std::string bad = good;
      for (int k = 0; k < 4; ++k)
        bad[random() % std::min<std::size_t>(bad.size(), 4000)] = static_cast<char>(random());
      (void)tried(bad);
    }
  }
  const auto huge_bmp =
      "BM\x36\0\0\0\0\0\0\0\x36\0\0\0\x28\0\0\0\x10\x27\0\0\x10\x27\0\0\1\0\x18\0"s + std::string(24, '\0');
  const auto huge_gif = "GIF89a\x01\0\x01\0\0\0\0,\0\0\0\0\xff\xff\xff\xff\0\x08\x01\0\0;"s;
  const auto huge_tiff =
      "II*\0\x08\0\0\0\x03\0\0\1\4\0\1\0\0\0\x30\x75\0\0\1\1\4\0\1\0\0\0\x30\x75\0\0\x02\1\3\0\1\0\0\0\x08\0\0\0\0\0\0\0"s;
  const auto huge_webp =
      "RIFF\x1a\0\0\0WEBPVP8L\x0d\0\0\0\x2f\xff\xff\xff\x0f\0\0\0\0\0\0\0\0\0"s;  // 16384 x 16384
  for (const auto& bomb : {huge_bmp, huge_gif, huge_tiff, huge_webp}) {
    EXPECT_TRUE(is_picture(bomb)) << bomb.substr(0, 4);
    EXPECT_FALSE(decode_picture(bomb)) << bomb.substr(0, 4);
  }
  EXPECT_FALSE(is_picture("BM is how this text begins, and it is long enough"));
  EXPECT_EQ(unread_picture("\0\0\0\x18"
                           "ftypheic"s),
            "HEIF");
  EXPECT_EQ(unread_picture("plain text"), "");
}
}  // namespace
}  // namespace hb::sheet
