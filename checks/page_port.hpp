/// The phone's own browser, as far as a check may use it: pictures, sound, full-screen fields.
/// Threads: the phone's strand.
#pragma once

#include <cstdint>
#include <functional>
#include <vector>

#include "checks/fields.hpp"
#include "harness/base/result.hpp"
#include "harness/net/awaitable.hpp"

namespace hb::checks {

/// One picture from a camera, 8-bit sRGB, interleaved R G B, row major, top left first. Lives in memory
/// only: there is deliberately no way to serialise it.
struct Frame {
  int width = 0, height = 0;
  std::vector<std::uint8_t> rgb;
  double t_ms = 0;     ///< when it was taken, on the page's clock
  double focus_m = 0;  ///< the distance that the focus was set to; 0: the camera's own choice
  Frame() = default;
  Frame(Frame&&) = default;
  Frame& operator=(Frame&&) = default;
  Frame(const Frame&) = delete;
  Frame& operator=(const Frame&) = delete;
};

enum class Facing { back, front };

/// Pictures from camera `index` among those facing that way, at the resolution nearest to width x height.
struct CameraAsk {
  Facing facing = Facing::back;
  int index = 0, width = 0, height = 0;
};

/// Gets frame `i` of a take as soon as it came, in any order; the pixels are overwritten when it returns. A
/// page that was loaded anew in the middle sends its frames again, so the last one for an `i` counts.
using FrameSink = std::function<void(int i, const Frame& frame)>;

/// One recording of a microphone: mono, 16 bit, full scale 32768, with the phone's echo cancelling, noise
/// suppression and gain control off. Lives in memory only: there is deliberately no way to serialise it.
struct Recording {
  int rate_hz = 0;
  std::vector<std::int16_t> samples;
  Recording() = default;
  Recording(Recording&&) = default;
  Recording& operator=(Recording&&) = default;
  Recording(const Recording&) = delete;
  Recording& operator=(const Recording&) = delete;
};
/// Gets the recording; its samples are overwritten when it returns. As with frames, the last one counts.
using RecordingSink = std::function<void(const Recording& recording)>;

/// A sweep (kernel::Sweep) played through one output while one microphone records: silence of `lead_s`, the
/// sweep, silence of `tail_s`. Outputs and microphones count from 0 in the browser's own order.
struct SweepAsk {
  int output = 0, microphone = 0;
  double f1_hz = 100, f2_hz = 20000, sweep_s = 1;
  double level = 0.25;  ///< highest sample, full scale is 1
  double lead_s = 0.3, tail_s = 0.7;
};
struct SoundPlaces {
  int microphones = 0, outputs = 0;
};

/// The phone's own browser, as far as a check may use it.
class PagePort {
 public:
  virtual ~PagePort() = default;
  /// Opens the page on the phone if it is not open yet. unsupported: no browser may be used.
  [[nodiscard]] virtual net::awaitable<Result<void>> open() = 0;
  /// How many cameras the page can reach, by facing.
  [[nodiscard]] virtual net::awaitable<Result<int>> cameras(Facing facing) = 0;
  /// Takes `count` frames from camera `index` among those facing that way, at the resolution nearest to
  /// width x height; each is shown to `sink` and gone, so that one picture a phone is in memory at a time.
  /// not_found: no such camera; refused: the person said no; timed_out.
  [[nodiscard]] virtual net::awaitable<Result<void>> frames(Facing facing, int index, int width, int height,
                                                            int count, FrameSink sink) = 0;
  /// `each` frames at each of `steps` settings of the focus, evenly spaced in dioptres from the farthest to
  /// the nearest that the browser offers: frame i is at setting i / each, and its focus_m says which. Then
  /// the camera focuses by itself again. Errors: as frames(); unsupported: this browser or this camera lets
  /// nobody set the focus.
  [[nodiscard]] virtual net::awaitable<Result<void>> focus_frames(CameraAsk ask, int steps, int each,
                                                                  FrameSink sink);
  /// `dark` frames, `lit` ones from the moment on in which the camera's light was switched on, and `dark`
  /// ones when it is off again, all scaled down to within width x height. Off it is whatever came of it.
  /// Errors: as frames(); unsupported: this browser or this camera lets nobody switch a light.
  [[nodiscard]] virtual net::awaitable<Result<void>> light_frames(CameraAsk ask, int dark, int lit,
                                                                  FrameSink sink);
  /// Opens the page if need be and has it offer "Start" for the microphone, so that the person's tap
  /// (AllowOnPage) allows that. Errors: as open().
  [[nodiscard]] virtual net::awaitable<Result<void>> open_for_sound();
  /// What the browser lets a page choose from. A browser that cannot choose outputs has one: wherever the
  /// phone plays. refused, timed_out: the microphone was not allowed.
  [[nodiscard]] virtual net::awaitable<Result<SoundPlaces>> sound_places();
  /// Plays and records; the recording goes to `sink` and is gone. not_found: no such output or microphone;
  /// refused; timed_out; unsupported.
  [[nodiscard]] virtual net::awaitable<Result<void>> sweep(SweepAsk ask, RecordingSink sink);
  /// Shows the fields one after the other on the whole screen until the person has gone through all of them,
  /// and gives what they marked. unsupported: this browser cannot fill the screen, or the phone lies turned;
  /// refused: the person said no; timed_out.
  [[nodiscard]] virtual net::awaitable<Result<FieldMarks>> fields(FieldShow show);
  /// Removes the reverse forward and closes the page.
  [[nodiscard]] virtual net::awaitable<Result<void>> close() = 0;
};

}  // namespace hb::checks
