#include "checks/kernel/sound.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <numbers>
#include <random>

#include "checks/kernel/fourier.hpp"

namespace hb::kernel {
namespace {
using std::numbers::pi;

// Played at `level` and recorded `lead` samples late, with a tail; a little noise if asked for.
template <class Way>
std::vector<double> recorded(const Sweep& s, double level, std::size_t lead, Way way, double noise = 0) {
  std::vector<double> y(lead), x = samples_of(s);
  x.resize(x.size() + 24000);
  for (const double v : x) y.push_back(way(level * v));
  std::mt19937 random(7);
  std::normal_distribution<double> gauss(0, 1);
  if (noise > 0)
    for (double& v : y) v += noise * gauss(random);
  return y;
}

struct ThdRow {
  const char* name;
  std::vector<double> amplitudes;
  double expected;
};
std::vector<double> series(int terms, double power) {
  std::vector<double> a;
  for (int n = 1; n < 2 * terms; n += 2) a.push_back(std::pow(n, -power));
  return a;
}

// Expected: closed forms, evaluated in R.
TEST(Thd, OfSpectraWithKnownDistortion) {
  const ThdRow rows[] = {
      {"0.1 and 0.05", {1, 0.1, 0.05}, 0.1118034},
      {"three harmonics", {1, 0.01, 0.02, 0.005}, 0.02291288},
      {"square, 3rd to 9th", series(5, 1), 0.4287948},
      {"square, sqrt(pi^2/8 - 1)", series(4000000, 1), 0.4834259},
      {"triangle, sqrt(pi^4/96 - 1)", series(1000, 2), 0.1211529},
      {"a pure tone", {0.5}, 0},
  };
  for (const auto& r : rows) EXPECT_NEAR(thd_f(r.amplitudes), r.expected, 2e-7) << r.name;
  EXPECT_NEAR(thd_r(rows[0].amplitudes), 1.0 / 9, 1e-12);
  EXPECT_THROW(static_cast<void>(thd_f({})), std::invalid_argument);
}

// sum of r^j e^(-iwj), j = 0..n-1, is (1 - r^n e^(-iwn)) / (1 - r e^(-iw)).
TEST(Dft, OfAGeometricSeriesIsItsClosedFormAndGoesBack) {
  constexpr int n = 96;
  std::vector<double> x;
  for (int j = 0; j < n; ++j) x.push_back(std::pow(0.9, j));
  RealDft dft(n);
  const auto spectrum = dft.transform(x);
  for (int k = 0; k <= n / 2; ++k) {
    const auto e = std::polar(1.0, -2 * pi * k / n);
    EXPECT_LT(std::abs(spectrum[static_cast<std::size_t>(k)] - (1 - std::pow(0.9, n)) / (1.0 - 0.9 * e)),
              1e-12);
  }
  const auto back = real_inverse_dft(spectrum, n);
  for (std::size_t j = 0; j < n; ++j) EXPECT_NEAR(back[j], x[j], 1e-13);
  EXPECT_THROW(static_cast<void>(real_inverse_dft(spectrum, n + 2)), std::invalid_argument);
}

TEST(Sweep, RunsFromItsLowestToItsHighestFrequencyInWholeTurns) {
  const Sweep s;
  EXPECT_NEAR(s.l_s() * s.f1_hz, std::round(s.l_s() * s.f1_hz), 1e-9);
  EXPECT_NEAR(s.duration_s(), 1, 0.03);
  EXPECT_NEAR(s.at_s(s.f2_hz), s.duration_s(), 1e-12);
  const auto x = samples_of(s);
  // Turns by stationary counting: the integral of f is L (f2 - f1), two sign changes each.
  int changes = 0;
  for (std::size_t k = 1; k < x.size(); ++k) changes += (x[k] < 0) != (x[k - 1] < 0) ? 1 : 0;
  EXPECT_NEAR(changes, 2 * s.l_s() * (s.f2_hz - s.f1_hz), 4);
}

TEST(Response, OfAOnePoleFilterIsItsClosedForm) {
  const Sweep s;
  constexpr double a = 0.8;  // y_n = (1 - a) x_n + a y_(n-1); |H| = (1 - a) / |1 - a e^(-iw)|
  double state = 0;
  const auto y = recorded(s, 0.25, 9600, [&](double v) { return state = (1 - a) * v + a * state; });
  const auto impulse = impulse_of(y, s);
  EXPECT_NEAR(static_cast<double>(impulse.delay), 9600, 2);
  const auto centres = third_octaves_hz(200, 10000);
  ASSERT_EQ(centres.size(), 18u);
  const auto db = response_db(impulse, centres);
  for (std::size_t k = 0; k < centres.size(); ++k) {
    double power = 0;  // mean over the band, as measured
    constexpr int steps = 200;
    for (int i = 0; i < steps; ++i) {
      const double f =
          centres[k] * (std::pow(10, -0.05) + (i + 0.5) / steps * (std::pow(10, 0.05) - std::pow(10, -0.05)));
      power += std::norm(0.25 * (1 - a) / (1.0 - a * std::polar(1.0, -2 * pi * f / s.rate_hz))) / steps;
    }
    EXPECT_NEAR(db[k], 10 * std::log10(power), 0.1) << centres[k];
  }
}

// x = A sin: x^2 gives A^2/2 at 2f; x^3 gives -A^3/4 at 3f and 3A^3/4 at f.
TEST(Distortion, OfAPolynomialIsItsClosedForm) {
  const Sweep s{100, 8000, 48000, 1};  // so that the cube of a sample stays below half the rate
  constexpr double level = 0.5, c2 = 0.1, c3 = 0.2;
  const auto y = recorded(
      s, level, 7000, [](double v) { return v + c2 * v * v + c3 * v * v * v; }, 1e-4);
  const auto impulse = impulse_of(y, s);
  const std::vector<double> amplitudes{level + 0.75 * c3 * std::pow(level, 3), c2 * level * level / 2,
                                       c3 * std::pow(level, 3) / 4};
  const auto centres = third_octaves_hz(400, 1600);
  const auto thd = thd_by_band(impulse, s, centres);
  for (std::size_t k = 0; k < centres.size(); ++k)
    EXPECT_NEAR(thd[k], thd_f(amplitudes), 0.02 * thd_f(amplitudes)) << centres[k];
}

TEST(Distortion, OfAStraightWayIsSmallEvenInNoise) {
  const Sweep s;
  const auto y = recorded(
      s, 0.25, 7000, [](double v) { return v; }, 1e-3);
  const auto impulse = impulse_of(y, s);
  for (const double t : thd_by_band(impulse, s, third_octaves_hz(400, 2500))) EXPECT_LT(t, 0.004);
}

TEST(Impulse, NoiseAloneHasNoPeak) {
  const Sweep s;
  const auto noise = recorded(
      s, 0, 9600, [](double v) { return v; }, 1e-3);
  const auto heard = recorded(
      s, 0.01, 9600, [](double v) { return v; }, 1e-3);
  EXPECT_LT(impulse_of(noise, s).crest, 10);
  EXPECT_GT(impulse_of(heard, s).crest, 50);
  EXPECT_EQ(impulse_of(std::vector<double>(48000), s).crest, 0);
  EXPECT_EQ(impulse_of({}, s).crest, 0);
}

TEST(Impulse, OfALoopIsThatOfItsWholeTurnWhereverTheRecordBegins) {
  const Sweep s;
  auto once = recorded(
      s, 0.5, 1000, [](double v) { return v; }, 1e-4);
  once.resize(static_cast<std::size_t>(1.3 * s.rate_hz));
  for (std::size_t begin = 0; begin < once.size(); begin += 3000) {
    std::vector<double> record;
    for (std::size_t k = 0; k < static_cast<std::size_t>(2.4 * s.rate_hz); ++k)
      record.push_back(once[(begin + k) % once.size()]);
    const auto impulse = impulse_of(record, s);
    EXPECT_LE((impulse.delay + begin + once.size() - 1000 + 2) % once.size(), 4u) << begin;
    const auto quiet = quiet_in(record, s, impulse.delay, 0.1);
    ASSERT_TRUE(quiet) << begin;
    EXPECT_LT(quiet->rms, 2e-4) << begin;
  }
}

TEST(RubAndBuzz, IsHeardFromAMembraneThatTouchesAndNotFromASoftOne) {
  const Sweep s;
  const auto rub = [&](auto way) {
    const auto y = recorded(s, 0.5, 12000, way, 1e-4);
    const auto impulse = impulse_of(y, s);
    const auto quiet = quiet_in(y, s, impulse.delay, 0.1);
    EXPECT_TRUE(quiet);
    if (!quiet) return 0.0;
    EXPECT_NEAR(quiet->rms, 1e-4, 1e-5);
    return rub_buzz_db(y, s, impulse.delay, *quiet, 200, 1200);
  };
  const double soft = rub([](double v) { return v + 0.3 * v * v + 0.3 * v * v * v; });
  // Hard stop: a rectified tip of the wave has all orders.
  const double hard = rub([](double v) { return std::min(v, 0.35); });
  EXPECT_LT(soft, -60);
  EXPECT_GT(hard, -50);
}

TEST(Quiet, ARecordWithoutAQuietStretchSaysSo) {
  const Sweep s;
  const std::vector<double> y(static_cast<std::size_t>(1.2 * s.rate_hz), 0.1);
  EXPECT_FALSE(quiet_in(y, s, 100, 0.1));
  EXPECT_TRUE(quiet_in(y, s, 9600, 0.1));
}
}  // namespace
}  // namespace hb::kernel
