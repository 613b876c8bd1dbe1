// The chart that is printed is the one that the camera check looks for.
#include "tools/chart/drawing.hpp"

#include <cairo.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <cstring>
#include <filesystem>

#include "checks/cameras/cameras.hpp"

namespace hb::chart {
namespace {
struct File {
  std::filesystem::path path;
  explicit File(const char* ending)
      : path(std::filesystem::temp_directory_path() / ("chart-" + std::to_string(::getpid()) + ending)) {}
  ~File() {
    std::error_code ec;
    std::filesystem::remove(path, ec);
  }
};

/// The PNG, blurred by a box of n x n so that its edges are those of a lens, as a frame.
checks::Frame frame_of(const std::filesystem::path& png, int n) {
  cairo_surface_t* s = cairo_image_surface_create_from_png(png.c_str());
  const int w = cairo_image_surface_get_width(s) / n, h = cairo_image_surface_get_height(s) / n;
  const int stride = cairo_image_surface_get_stride(s);
  const unsigned char* data = cairo_image_surface_get_data(s);
  checks::Frame f;
  f.width = w, f.height = h;
  for (int y = 0; y < h; ++y)
    for (int x = 0; x < w; ++x) {
      int sum = 0;
      for (int j = 0; j < n; ++j)
        for (int i = 0; i < n; ++i) sum += data[(y * n + j) * stride + 4 * (x * n + i)];
      for (int c = 0; c < 3; ++c) f.rgb.push_back(static_cast<std::uint8_t>(sum / (n * n)));
    }
  cairo_surface_destroy(s);
  return f;
}

TEST(ChartDrawing, APrintIsFoundAndMeasuredAsTheChart) {
  for (const char* paper : {"a4", "a3", "letter"}) {
    const File file(".png");
    const auto size = paper_named(paper);
    ASSERT_TRUE(size);
    const double dpi = 25.4 * 3 * 1280 / size->width_mm;
    ASSERT_TRUE(draw({}, *size, file.path, dpi));
    const auto f = frame_of(file.path, 3);
    ASSERT_EQ(f.width, 1280);
    const auto n = checks::Cameras::analyse(f, {});
    ASSERT_EQ(static_cast<int>(n.seen), static_cast<int>(checks::ChartSeen::measured)) << paper;
    EXPECT_NEAR(n.scale, chart_height_mm({}, *size) / (f.height * size->width_mm / 1280), 0.003);
    EXPECT_NEAR(n.level, 0.72, 0.01);
    EXPECT_NEAR(n.trap_ratio, 0, 0.005);
    EXPECT_NEAR(n.roll_deg, 0, 0.1);
    EXPECT_NEAR(n.yaw_deg, 0, 0.5);
  }
}

TEST(ChartDrawing, APdfIsOnePageOfThePapersSize) {
  const File file(".pdf");
  ASSERT_TRUE(draw({}, *paper_named("a4"), file.path));
  EXPECT_GT(std::filesystem::file_size(file.path), 500U);
}

TEST(ChartDrawing, WrongPaperEndingOrFolderIsAnErrorWithWhatToDo) {
  EXPECT_EQ(paper_named("b5").error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(draw({}, {}, "chart.jpeg").error().code, ErrorCode::invalid_argument);
  EXPECT_FALSE(draw({}, {}, "/no/such/folder/chart.pdf"));
  EXPECT_FALSE(draw({}, {}, "/no/such/folder/chart.png", 50));
}
}  // namespace
}  // namespace hb::chart
