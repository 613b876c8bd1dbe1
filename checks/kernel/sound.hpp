/// What a loudspeaker and a microphone do to a swept sine: response, distortion, rub and buzz.
/// Units: seconds, Hz, samples as fractions of full scale; levels in dB re 1.
/// Sources: exponential sweep and its deconvolution: A. Farina, AES 108th Convention (2000), 5093; the
/// synchronised sweep and its spectrum by stationary phase: A. Novak, P. Lotton, L. Simon, J. Audio Eng. Soc.
/// 63 (2015) 786 (both from memory; re-derived in sound.cpp). Third octaves: IEC 61260-1, base ten.
/// Errors: std::invalid_argument where a precondition is stated. Threads: pure, any thread.
#pragma once

#include <optional>
#include <span>
#include <vector>

namespace hb::kernel {

/// x(t) = sin(2 pi f1 L exp(t / L)), 0 <= t < T, with L f1 a whole number nearest to the wanted duration and
/// T = L ln(f2 / f1), so that its harmonic n is the sweep itself, L ln n early. Faded in over 10 ms and out
/// over 5 ms (half cosines). 0 < f1 < f2 < rate / 2.
struct Sweep {
  double f1_hz = 100, f2_hz = 20000, rate_hz = 48000;
  double wanted_s = 1;
  [[nodiscard]] double l_s() const noexcept;              ///< L
  [[nodiscard]] double duration_s() const noexcept;       ///< T
  [[nodiscard]] double at_s(double f_hz) const noexcept;  ///< when the sweep is at f
};
[[nodiscard]] std::vector<double> samples_of(const Sweep& sweep);

/// The impulse response of the way from sweep to record, circular over `h`: the linear part begins at
/// `delay`, harmonic n lies L ln n before that.
struct Impulse {
  std::vector<double> h;
  double rate_hz = 0;
  std::size_t delay = 0;  ///< sample of the highest peak from where the whole sweep fits
  double crest = 0;       ///< that peak over the rms of h elsewhere: under 10 where there is noise only
};
[[nodiscard]] Impulse impulse_of(std::span<const double> record, const Sweep& sweep);

/// Mean power in third octaves of the linear part, dB; -300 where there is nothing. `centres_hz` inside
/// the sweep.
[[nodiscard]] std::vector<double> response_db(const Impulse& impulse, std::span<const double> centres_hz);
/// 1000 * 10^(n / 10) for all n with from <= f <= to (a percent of slack).
[[nodiscard]] std::vector<double> third_octaves_hz(double from_hz, double to_hz);

/// Harmonics 2 to 5 over the fundamental, by third octave of the fundamental: root of summed powers. The
/// power of the noise, seen where no harmonic lies, is taken off. 5 f must lie inside the sweep.
[[nodiscard]] std::vector<double> thd_by_band(const Impulse& impulse, const Sweep& sweep,
                                              std::span<const double> centres_hz);

/// root(sum of squared harmonics) over the fundamental, and over all of it (IEC 60268-3 knows both; from
/// memory). amplitudes: fundamental first, not 0. Empty: invalid_argument.
[[nodiscard]] double thd_f(std::span<const double> amplitudes);
[[nodiscard]] double thd_r(std::span<const double> amplitudes);

/// A quiet stretch of a record and what is in it.
struct Quiet {
  std::size_t from = 0, size = 0;
  double rms = 0;
};
/// The quietest stretch of `seconds` outside the sweep's answer, which takes from `delay` to 0.1 s after its
/// end. nullopt: the record has no such stretch.
[[nodiscard]] std::optional<Quiet> quiet_in(std::span<const double> record, const Sweep& sweep,
                                            std::size_t delay, double seconds);

/// Rub and buzz: while the sweep goes from `from_hz` to `to_hz`, the power above the tenth harmonic, over the
/// power below it, in dB; the highest mean over about 45 ms. A membrane that only bends softly makes low
/// orders; one that touches something makes all of them, and rattle. Power of the quiet stretch is taken off.
/// A method of the trade (tracking high-pass); the figures are our choice. -300: nothing up there.
[[nodiscard]] double rub_buzz_db(std::span<const double> record, const Sweep& sweep, std::size_t delay,
                                 const Quiet& quiet, double from_hz, double to_hz);
}  // namespace hb::kernel
