/// Spots of one frame: single pixels, or the little blobs that demosaicing and scaling make of them, that
/// stand out of an even neighbourhood. Works on the frame's 8-bit codes, which make noise about alike in
/// light and dark places. Memory besides the result: 4096 spots, 1200 blocks. Pure; any thread.
///
/// A spot stands out of the median of the 32 pixels on the square ring about it (4 pixels away) by `kTimes`
/// standard deviations and by `kLeast` codes at least, in one of the colours. The standard deviation is that
/// of its block (the frame in 40 x 30): 1.4826 / sqrt 2 times the median of 256 differences over 4 pixels,
/// which neither edges nor spots move; it is never taken for less than the frame's quiet blocks show.
///
/// False alarms of normal noise, one frame alone, 1280 x 960: the ring's median adds pi / 2 / 32 to the
/// variance, and a block's estimate is off by 7 %; with each of them two of these too small, 8 sd are 6.6 in
/// truth, 3e-11 (R: 2 * pnorm(-6.64)) times 3 * 1280 * 960 values are 1.2e-4 spots. That is also what is left
/// if all frames show the same noise; with noise of its own in each frame it is less than 1e-20 for a spot in
/// three.
#pragma once

#include <array>
#include <cstdint>
#include <vector>

#include "checks/page_port.hpp"

namespace hb::checks::camera {

struct Spot {
  int x = 0, y = 0;     ///< pixel of the frame that its middle is in
  int level = 0;        ///< of its neighbourhood, code 0..255
  bool bright = false;  ///< brighter than that
};
inline constexpr std::size_t kMostSpots = 128;
struct Spots {
  std::vector<Spot> all;  ///< in reading order, the first `kMostSpots`
  int seen = 0;           ///< all of them; counts no further than 4096
  double searched = 0;    ///< share of the frame's pixels with an even neighbourhood
  int samples = 0;        ///< places that this share was read at
  double noise = 0;       ///< standard deviation of the quiet blocks, codes, mean of the colours
};

void to_json(nlohmann::json& j, const Spots& s);
void from_json(const nlohmann::json& j, Spots& s);

enum class AtPlace { clean, stands, unsearched };

class SpotSearch {
 public:
  static constexpr double kTimes = 8, kLeast = 6;
  /// `frame`: at least 64 x 64, and outlives this.
  explicit SpotSearch(const Frame& frame);
  /// `searched` is 0 for a frame that is rough all over.
  [[nodiscard]] Spots all() const;
  /// Whether something stands where a spot was in another frame, a pixel off at most, half as clear at least.
  /// unsearched: too near an edge, rough, or so light (dark) that a bright (dark) spot need not show.
  [[nodiscard]] AtPlace at(const Spot& spot) const;

 private:
  struct Found {
    Spot spot;                     ///< its clearest pixel
    double times = 0;              ///< how far that stands out, over what it must
    double sum = 0, x = 0, y = 0;  ///< of all its pixels: times, and place times times
  };
  [[nodiscard]] std::size_t block(int x, int y) const noexcept;
  [[nodiscard]] double threshold(int x, int y, int colour) const noexcept;
  [[nodiscard]] const std::uint8_t* pixel(int x, int y) const noexcept;
  /// -1: the ring is not even.
  [[nodiscard]] int ring_level(int x, int y, int colour) const noexcept;
  [[nodiscard]] bool in_reach(int x, int y) const noexcept;
  static Found& spot_of(const Spot& here, std::vector<Found>& found);
  static void join(const Spot& here, double times, std::vector<Found>& found);
  void read_noise();
  void read_share(Spots& out) const;
  [[nodiscard]] std::vector<int> steps_of(int y) const;
  void look(int x, int y, int colour, std::vector<Found>& found) const;
  [[nodiscard]] int search_row(int y, const std::vector<int>& steps, std::vector<Found>& found) const;

  const Frame& frame_;
  std::vector<std::array<float, 3>> noise_;  ///< by block; 0: not searched
  std::vector<int> starts_;                  ///< of the pieces that a row is searched in, bytes
  std::array<int, 32> ring_{};               ///< offsets in bytes
  double quiet_ = 0;
};

}  // namespace hb::checks::camera
