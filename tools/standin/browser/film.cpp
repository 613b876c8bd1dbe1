#include "film.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace hb::standin {
namespace {
struct Yuv {
  double y, u, v;
};
// BT.601 luma 0.299 0.587 0.114 and scaled colour differences.
Yuv yuv(double r, double g, double b) {
  const double luma = 0.299 * r + 0.587 * g + 0.114 * b;
  return {16 + 219 * luma / 255, 128 + 224 * (b - luma) / (1.772 * 255),
          128 + 224 * (r - luma) / (1.402 * 255)};
}
char code(double v) {
  return static_cast<char>(static_cast<unsigned char>(std::lround(std::clamp(v, 0.0, 255.0))));
}
}  // namespace

std::string film(const Lens& lens, int frames, std::uint64_t first) {
  const auto w = static_cast<std::size_t>(lens.width), h = static_cast<std::size_t>(lens.height);
  std::string out = fmt::format("YUV4MPEG2 W{} H{} F30:1 Ip A1:1 C420jpeg\n", w, h);
  out.reserve(out.size() + static_cast<std::size_t>(frames) * (6 + w * h * 3 / 2));
  for (int n = 0; n < frames; ++n) {
    const Picture p = render(lens, first + static_cast<std::uint64_t>(n));
    out += "FRAME\n";
    const std::size_t luma = out.size(), cb = luma + w * h, cr = cb + w * h / 4;
    out.resize(cr + w * h / 4);
    for (std::size_t y = 0; y < h; y += 2)
      for (std::size_t x = 0; x < w; x += 2) {
        double u = 0, v = 0;
        for (const std::size_t at : {y * w + x, y * w + x + 1, (y + 1) * w + x, (y + 1) * w + x + 1}) {
          const auto c = yuv(p.rgb[3 * at], p.rgb[3 * at + 1], p.rgb[3 * at + 2]);
          out[luma + at] = code(c.y);
          u += c.u / 4, v += c.v / 4;
        }
        out[cb + y / 2 * (w / 2) + x / 2] = code(u);
        out[cr + y / 2 * (w / 2) + x / 2] = code(v);
      }
  }
  return out;
}
}  // namespace hb::standin
