// Speed of the slanted-edge response: all edges that the camera check reads in one frame, on one core. Goal:
// under 60 ms for a frame of 12 megapixels, and for the search for spots as well. The frame is the stand-in's
// chart, held a little askew, at 1, 3 and 12 megapixels; the regions grow with it. Not part of the tests; run
// it in the release build.
//   hb_bench_esfr [--repeat N]        exit 1: goal missed
#include <fmt/format.h>
#include <time.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <vector>

#include "checks/cameras/cameras.hpp"
#include "checks/cameras/edges.hpp"
#include "checks/cameras/ground.hpp"
#include "checks/cameras/spots.hpp"
#include "tools/standin/optics/optics.hpp"

namespace {
using namespace hb;
constexpr double kGoal_ms = 60;

/// Processor time of this thread: what else the machine does is not counted.
double now_ms() {
  timespec t{};
  ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
  return static_cast<double>(t.tv_sec) * 1e3 + static_cast<double>(t.tv_nsec) * 1e-6;
}
double median(std::vector<double> v) {
  std::sort(v.begin(), v.end());
  return v[v.size() / 2];
}

checks::Frame frame(int width, int height) {
  standin::Lens lens;
  lens.width = width, lens.height = height;
  lens.blur_px = 0.7 * width / 1280.0;  // the same lens, finer pixels
  lens.pose.scale = 0.92, lens.pose.roll_deg = 2, lens.pose.yaw_deg = 4, lens.pose.pitch_deg = -3;
  auto p = standin::render(lens, 0);
  checks::Frame f;
  f.width = width, f.height = height, f.rgb = std::move(p.rgb);
  return f;
}

struct Cost {
  double edges_ms = 0, spots_ms = 0;  ///< 0: something could not be read
};
Cost of_frame(int width, int height, int repeat) {
  const checks::Frame f = frame(width, height);
  const checks::Cameras::Chart chart;
  const auto light = checks::camera::luminance(f);
  const auto found = checks::camera::locate(light, chart);
  if (!found.chart) return {};
  const auto held = checks::camera::outline(light, chart, *found.chart, 68);
  if (!held) return {};
  std::vector<double> edges_ms, spots_ms, all_ms;
  std::size_t regions = 0, pixels = 0;
  for (int i = 0; i < repeat; ++i) {
    const double start = now_ms();
    regions = 0, pixels = 0;
    for (const auto& e : checks::camera::usable_edges(*held)) {
      const auto roi = checks::camera::region(light, *held, e);
      const auto r = kernel::esfr(roi);
      if (!r) return {};
      ++regions, pixels += roi.values.size();
    }
    edges_ms.push_back(now_ms() - start);
    const double searching = now_ms();
    if (checks::camera::SpotSearch(f).all().searched < 0.5) return {};
    spots_ms.push_back(now_ms() - searching);
    const double again = now_ms();
    if (checks::Cameras::analyse(f, chart).seen != checks::ChartSeen::measured) return {};
    all_ms.push_back(now_ms() - again);
  }
  const double ms = median(edges_ms), spots = median(spots_ms), n = static_cast<double>(regions);
  fmt::print("{:>5} x {:<5} {:>8.1f} {:>8} {:>12.0f} {:>10.1f} {:>10.2f} {:>9.1f} {:>9.1f} {:>12.1f}\n",
             width, height, width * height * 1e-6, regions, static_cast<double>(pixels) / n, ms, ms / n,
             1e6 * ms / static_cast<double>(pixels), spots, median(all_ms));
  return {ms, spots};
}
}  // namespace

int main(int argc, char** argv) {
  int repeat = 9;
  CLI::App cli("slanted-edge response of one frame, on one core");
  cli.add_option("--repeat", repeat, "times each; the median is printed")->check(CLI::PositiveNumber);
  CLI11_PARSE(cli, argc, argv);
  fmt::print("{:>13} {:>8} {:>8} {:>12} {:>10} {:>10} {:>9} {:>9} {:>12}\n", "frame", "Mpx", "regions",
             "px a region", "edges ms", "ms each", "ns a px", "spots ms", "all of it ms");
  Cost last;
  for (const auto& [w, h] : {std::pair{1152, 864}, std::pair{2000, 1500}, std::pair{4000, 3000}}) {
    last = of_frame(w, h, repeat);
    if (last.edges_ms == 0) {
      fmt::print(stderr, "the chart of {} x {} could not be read\n", w, h);
      return 2;
    }
  }
  const bool met = last.edges_ms < kGoal_ms && last.spots_ms < kGoal_ms;
  fmt::print("12 megapixels: edges {:.1f} ms, spots {:.1f} ms, goal {:.0f} ms each: {}\n", last.edges_ms,
             last.spots_ms, kGoal_ms, met ? "met" : "missed");
  return met ? 0 : 1;
}
