// Capture -> measures. Pure: the same capture gives the same bits.
#include <algorithm>
#include <cmath>
#include <numbers>

#include "checks/kernel/summary.hpp"
#include "checks/vibration/vibration.hpp"

namespace hb::checks {
namespace {
using Samples = std::vector<Vibration::Sample>;
constexpr double kPrintStep = 0.01;  // two decimals: AOSP RecentEventLogger
constexpr double kAboveRest = 3;     // times the rms at rest; our choice
constexpr double kLeastShare = 0.5;  // of the variance in one sine; noise gives about 0.2; our choice
constexpr double kBand = 0.05;       // motors of one type differ by so much: common practice, no source
constexpr std::size_t kFewest = 12;

/// Root of the summed variances of the axes.
double rms(const Samples& all) {
  double ss = 0;
  for (std::size_t axis = 0; axis < 3; ++axis) {
    std::vector<double> v;
    for (const auto& s : all) v.push_back(s.value[axis]);
    const double sd = kernel::standard_deviation(v);
    ss += sd * sd;
  }
  return std::max(std::sqrt(ss), kPrintStep * std::sqrt(3.0 / 12));
}

/// Share of the variance of all axes that a sine of frequency f explains, by least squares on the samples'
/// own times, so that a rate below twice f does not matter: a sine and its aliases fit alike.
double share_at(const Samples& all, double f) {
  const double n = static_cast<double>(all.size());
  double cc = 0, ss = 0, cs = 0, c1 = 0, s1 = 0;
  std::array<double, 3> yc{}, ys{}, y1{}, yy{};
  for (const auto& x : all) {
    const double phase = 2 * std::numbers::pi * f * (x.t_s - all.front().t_s);
    const double c = std::cos(phase), s = std::sin(phase);
    cc += c * c, ss += s * s, cs += c * s, c1 += c, s1 += s;
    for (std::size_t a = 0; a < 3; ++a)
      yc[a] += x.value[a] * c, ys[a] += x.value[a] * s, y1[a] += x.value[a], yy[a] += x.value[a] * x.value[a];
  }
  cc -= c1 * c1 / n, ss -= s1 * s1 / n, cs -= c1 * s1 / n;
  const double det = cc * ss - cs * cs;
  if (!(det > 1e-3 * n * n / 4)) return 0;  // an alias of rest: says nothing
  double explained = 0, total = 0;
  for (std::size_t a = 0; a < 3; ++a) {
    const double c = yc[a] - y1[a] * c1 / n, s = ys[a] - y1[a] * s1 / n;
    explained += (ss * c * c - 2 * cs * c * s + cc * s * s) / det;
    total += yy[a] - y1[a] * y1[a] / n;
  }
  return total > 0 ? std::clamp(explained / total, 0.0, 1.0) : 0;
}

double line_share(const Samples& all, double motor_hz) {
  const double span_s = all.back().t_s - all.front().t_s;
  if (!(span_s > 0.1)) return 0;
  double best = 0;
  const double step = 0.25 / span_s;
  for (double f = (1 - kBand) * motor_hz; f <= (1 + kBand) * motor_hz; f += step)
    best = std::max(best, share_at(all, f));
  return best;
}

bool torn(const Vibration::Capture& c) {
  const auto bad = [](const Samples& all) {
    return std::any_of(all.begin(), all.end(), [](const auto& s) {
      return !std::isfinite(s.t_s) ||
             std::any_of(s.value.begin(), s.value.end(), [](double v) { return !(std::abs(v) < 1e4); });
    });
  };
  return c.bursts.empty() || bad(c.rest) || std::any_of(c.bursts.begin(), c.bursts.end(), bad);
}
}  // namespace

std::vector<std::optional<Vibration::Shake>> Vibration::shakes(const Capture& capture, const Config& config) {
  std::vector<std::optional<Shake>> out;
  for (const auto& b : capture.bursts) {
    if (b.size() < kFewest || capture.rest.size() < kFewest) {
      out.emplace_back();
      continue;
    }
    Shake s;
    s.rms_ms2 = rms(b);
    s.line_share = line_share(b, config.motor_hz);
    s.seen = s.rms_ms2 > kAboveRest * rms(capture.rest) && s.line_share >= kLeastShare;
    out.emplace_back(s);
  }
  return out;
}

Result<Measured> Vibration::measure(const Capture& capture, const Config& config) {
  if (torn(capture))
    return Error{ErrorCode::bad_format, "the capture is torn: a value is out of range", "vibration",
                 "Run the check again."};
  const auto all = shakes(capture, config);
  const auto bursts = static_cast<std::int64_t>(all.size());
  const auto seen = std::count_if(all.begin(), all.end(), [](const auto& s) { return s && s->seen; });
  if (seen < bursts && !capture.felt)
    return Error{
        ErrorCode::unsupported,
        "the motion sensor saw no shaking, which does not say that there was none, and nobody could be "
        "asked",
        "vibration", "Run it in a terminal and answer the question."};
  Measured out;
  std::vector<double> shake, share;
  for (const auto& s : all)
    if (s) shake.push_back(s->rms_ms2), share.push_back(s->line_share);
  if (!shake.empty()) {
    const auto n = static_cast<std::int64_t>(shake.size());
    const double floor = kPrintStep / std::sqrt(12.0);
    out.measures.push_back({"vibration.shake_ms2",
                            {},
                            kernel::median(shake),
                            std::hypot(kernel::median_uncertainty(shake), floor),
                            "m/s2",
                            n});
    out.measures.push_back({"vibration.line_share",
                            {},
                            kernel::median(share),
                            std::max(kernel::median_uncertainty(share), 0.01),
                            "1",
                            n});
    out.measures.push_back({"vibration.rest_ms2",
                            {},
                            rms(capture.rest),
                            floor,
                            "m/s2",
                            static_cast<std::int64_t>(capture.rest.size())});
  }
  out.measures.push_back({"vibration.bursts_seen", {}, static_cast<double>(seen), 0, "1", bursts});
  if (capture.felt)
    out.measures.push_back({"vibration.observed_felt", {}, *capture.felt ? 1.0 : 0.0, 0, "1", 1});
  const bool silent = seen < bursts && !*capture.felt;
  out.measures.push_back(
      {"vibration.silent_bursts", {}, silent ? static_cast<double>(bursts - seen) : 0.0, 0, "1", bursts});
  return out;
}

}  // namespace hb::checks
