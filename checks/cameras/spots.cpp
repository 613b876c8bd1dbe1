#include "spots.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <nlohmann/json.hpp>

#include "checks/kernel/summary.hpp"

namespace hb::checks::camera {
namespace {
constexpr int kReach = 4;                 // of the ring, pixels
constexpr int kCols = 40, kRows = 30;     // blocks
constexpr int kSamples = 16;              // differences of a block each way
constexpr int kShareSamples = 2;          // places of a block each way at which its evenness is read
constexpr float kLeastNoise = 0.6F;       // codes: rounding hides less
constexpr float kMostNoise = 4;           // codes: where half the range would be needed to stand out
constexpr float kMostRough = 3;           // over the quiet blocks: texture, not noise
constexpr int kSkip = 3;                  // of the ring's 32 at each end: another spot may touch it
constexpr int kApart = 4;                 // pixels: nearer ones are one spot
constexpr int kMostDarker = 40;           // codes between two neighbourhoods that show a spot alike
constexpr int kMostLooks = 50000;         // at rings; more is a frame that is rough all over
constexpr std::size_t kMostFound = 4096;  // while searching

using Histogram = std::array<int, 256>;

/// Median of |differences| as grouped data: code k stands for k - 0.5 to k + 0.5, 0 for 0 to 0.5.
double grouped_median(const Histogram& count, int n) {
  const double half = 0.5 * n;
  double below = 0;
  for (std::size_t k = 0; k < count.size(); ++k) {
    const double here = count[k];
    if (here > 0 && below + here >= half) {
      const double share = (half - below) / here;
      return k == 0 ? 0.5 * share : static_cast<double>(k) - 0.5 + share;
    }
    below += here;
  }
  return 0;
}

/// First pixel of block `k` of `blocks` along a side.
int first_of(int k, int blocks, int side) noexcept { return (k * side + blocks - 1) / blocks; }

constexpr std::size_t kChunk = 64;
using Chunk = std::array<std::uint8_t, kChunk>;

/// How far each byte of a row's piece stands out of all its four neighbours of the same colour, `kReach`
/// pixels away: what a spot does, and an even place or a straight edge does not. Bytes and a fixed length, so
/// that a compiler takes many at once.
Chunk outstanding(const std::uint8_t* row, const std::uint8_t* up, const std::uint8_t* down) {
  constexpr int d = 3 * kReach;
  const std::uint8_t *left = row - d, *right = row + d;
  Chunk out;
  for (std::size_t i = 0; i < kChunk; ++i) {
    const std::uint8_t v = row[i];
    const std::uint8_t high = std::max(std::max(left[i], right[i]), std::max(up[i], down[i]));
    const std::uint8_t low = std::min(std::min(left[i], right[i]), std::min(up[i], down[i]));
    const auto above = static_cast<std::uint8_t>(std::max(v, high) - high);
    const auto below = static_cast<std::uint8_t>(low - std::min(v, low));
    out[i] = std::max(above, below);
  }
  return out;
}
std::uint8_t most_of(const Chunk& c) {
  std::uint8_t most = 0;
  for (std::size_t i = 0; i < kChunk; ++i) most = std::max(most, c[i]);
  return most;
}
}  // namespace

void to_json(nlohmann::json& j, const Spot& s) { j = {s.x, s.y, s.level, s.bright ? 1 : 0}; }
void from_json(const nlohmann::json& j, Spot& s) {
  const auto v = j.get<std::array<int, 4>>();
  s = {v[0], v[1], v[2], v[3] != 0};
}
void to_json(nlohmann::json& j, const Spots& s) {
  j = {
      {"all", s.all}, {"seen", s.seen}, {"searched", s.searched}, {"samples", s.samples}, {"noise", s.noise}};
}
void from_json(const nlohmann::json& j, Spots& s) {
  j.at("all").get_to(s.all);
  j.at("seen").get_to(s.seen);
  j.at("searched").get_to(s.searched);
  j.at("samples").get_to(s.samples);
  j.at("noise").get_to(s.noise);
}

SpotSearch::SpotSearch(const Frame& frame)
    : frame_(frame), noise_(static_cast<std::size_t>(kCols) * static_cast<std::size_t>(kRows)) {
  std::size_t n = 0;
  const auto add = [&](int dx, int dy) { ring_[n++] = 3 * (dy * frame.width + dx); };
  for (int i = -kReach; i <= kReach; ++i) add(i, -kReach), add(i, kReach);
  for (int i = 1 - kReach; i < kReach; ++i) add(-kReach, i), add(kReach, i);
  constexpr int chunk = kChunk;  // the last one ends where the search does
  const int end = 3 * (frame.width - kReach);
  for (int from = 3 * kReach; from < end; from += chunk) starts_.push_back(std::min(from, end - chunk));
  read_noise();
}

std::size_t SpotSearch::block(int x, int y) const noexcept {
  const auto col = static_cast<std::size_t>(x * kCols / frame_.width),
             row = static_cast<std::size_t>(y * kRows / frame_.height);
  return row * kCols + col;
}

double SpotSearch::threshold(int x, int y, int colour) const noexcept {
  const double noise = static_cast<double>(noise_[block(x, y)][static_cast<std::size_t>(colour)]);
  return noise > 0 ? std::max(kLeast, kTimes * noise) : 0;
}

const std::uint8_t* SpotSearch::pixel(int x, int y) const noexcept {
  return frame_.rgb.data() + 3 * (static_cast<std::size_t>(y) * static_cast<std::size_t>(frame_.width) +
                                  static_cast<std::size_t>(x));
}

bool SpotSearch::in_reach(int x, int y) const noexcept {
  return x >= kReach && y >= kReach && x < frame_.width - kReach && y < frame_.height - kReach;
}

int SpotSearch::ring_level(int x, int y, int colour) const noexcept {
  std::array<std::uint8_t, 32> r;
  const std::uint8_t* at = pixel(x, y) + colour;
  for (std::size_t i = 0; i < r.size(); ++i) r[i] = at[ring_[i]];
  std::sort(r.begin(), r.end());
  const double noise = static_cast<double>(noise_[block(x, y)][static_cast<std::size_t>(colour)]);
  const int spread = r[r.size() - 1 - kSkip] - r[kSkip];
  return spread <= 6 * noise + 2 ? (r[15] + r[16]) / 2 : -1;
}

void SpotSearch::read_noise() {
  std::array<std::vector<double>, 3> all;
  for (int row = 0; row < kRows; ++row)
    for (int col = 0; col < kCols; ++col) {
      const int x0 = first_of(col, kCols, frame_.width), x1 = first_of(col + 1, kCols, frame_.width);
      const int y0 = first_of(row, kRows, frame_.height), y1 = first_of(row + 1, kRows, frame_.height);
      const int dx = std::max(1, (x1 - x0) / kSamples), dy = std::max(1, (y1 - y0) / kSamples);
      std::array<Histogram, 3> count{};
      int n = 0;
      for (int y = y0; y < std::min(y1, frame_.height - kReach); y += dy)
        for (int x = x0; x < std::min(x1, frame_.width - kReach); x += dx, ++n) {
          const std::uint8_t* a = pixel(x, y);
          const std::uint8_t* b = n % 2 == 0 ? pixel(x + kReach, y) : pixel(x, y + kReach);
          for (std::size_t c = 0; c < 3; ++c) ++count[c][static_cast<std::size_t>(std::abs(a[c] - b[c]))];
        }
      auto& noise = noise_[static_cast<std::size_t>(row * kCols + col)];
      for (std::size_t c = 0; c < 3; ++c) {
        const double sd = kernel::kMadToSd / std::sqrt(2.0) * grouped_median(count[c], n);
        noise[c] = std::max(kLeastNoise, static_cast<float>(sd));
        all[c].push_back(sd);
      }
    }
  std::array<float, 3> quiet{};
  for (std::size_t c = 0; c < 3; ++c) {
    const double sd = kernel::quantile(all[c], 0.25);
    quiet_ += sd / 3;
    quiet[c] = std::max(kLeastNoise, static_cast<float>(sd));
  }
  for (auto& noise : noise_) {
    bool rough = false;
    for (std::size_t c = 0; c < 3; ++c) {
      noise[c] = std::max(noise[c], quiet[c]);
      rough = rough || noise[c] > std::min(kMostNoise, kMostRough * quiet[c]);
    }
    if (rough) noise = {};
  }
}

void SpotSearch::read_share(Spots& out) const {
  int even = 0;
  const int cols = kCols * kShareSamples, rows = kRows * kShareSamples;
  for (int row = 0; row < rows; ++row)
    for (int col = 0; col < cols; ++col) {
      const int x = (2 * col + 1) * frame_.width / (2 * cols), y = (2 * row + 1) * frame_.height / (2 * rows);
      ++out.samples;
      if (in_reach(x, y) && threshold(x, y, 1) > 0 && ring_level(x, y, 1) >= 0) ++even;
    }
  out.searched = static_cast<double>(even) / out.samples;
}

/// The spot that a pixel belongs to. `found` is in reading order, or nearly.
SpotSearch::Found& SpotSearch::spot_of(const Spot& here, std::vector<Found>& found) {
  for (auto f = found.rbegin(); f != found.rend() && here.y - f->spot.y <= 2 * kApart; ++f)
    if (std::abs(f->spot.x - here.x) <= kApart && here.y - f->spot.y <= kApart) return *f;
  found.push_back({here, 0, 0, 0, 0});
  return found.back();
}

/// The clearest pixel tells the level, all of them the middle: a clipped spot has no clearest one.
void SpotSearch::join(const Spot& here, double times, std::vector<Found>& found) {
  Found& f = spot_of(here, found);
  if (times > f.times) f.spot = here, f.times = times;
  f.sum += times, f.x += times * here.x, f.y += times * here.y;
}

/// What a byte of each chunk must stand out by to be looked at: half of what a spot must, in the chunk's most
/// quiet block; 0: none is searched.
std::vector<int> SpotSearch::steps_of(int y) const {
  std::vector<int> steps;
  for (const int from : starts_) {
    double least = 0;
    for (int x = from / 3; x <= (from + static_cast<int>(kChunk) - 1) / 3; ++x)
      for (int colour = 0; colour < 3; ++colour)
        if (const double t = threshold(x, y, colour); t > 0 && (least == 0 || t < least)) least = t;
    steps.push_back(static_cast<int>(0.5 * least));
  }
  return steps;
}

void SpotSearch::look(int x, int y, int colour, std::vector<Found>& found) const {
  const double wanted = threshold(x, y, colour);
  const int level = wanted > 0 ? ring_level(x, y, colour) : -1;
  if (level < 0) return;
  const int over = pixel(x, y)[colour] - level;
  if (const double times = std::abs(over) / wanted; times >= 1) join({x, y, level, over > 0}, times, found);
}

/// How many places were looked at closely.
int SpotSearch::search_row(int y, const std::vector<int>& steps, std::vector<Found>& found) const {
  const std::uint8_t *row = pixel(0, y), *up = pixel(0, y - kReach), *down = pixel(0, y + kReach);
  int looks = 0;
  for (std::size_t k = 0; k < starts_.size(); ++k) {
    if (steps[k] == 0) continue;
    const int from = starts_[k];
    const Chunk chunk = outstanding(row + from, up + from, down + from);
    if (most_of(chunk) < steps[k]) continue;
    for (std::size_t i = 0; i < kChunk; ++i) {
      if (chunk[i] < steps[k]) continue;
      const int byte = from + static_cast<int>(i);
      ++looks;
      look(byte / 3, y, byte % 3, found);
    }
  }
  return looks;
}

Spots SpotSearch::all() const {
  Spots out;
  out.noise = quiet_;
  read_share(out);
  std::vector<Found> found;
  std::vector<int> steps;
  int looks = 0, row = -1;
  for (int y = kReach; y < frame_.height - kReach && found.size() < kMostFound; ++y) {
    if (const int r = y * kRows / frame_.height; r != row) row = r, steps = steps_of(y);
    looks += search_row(y, steps, found);
    if (looks <= kMostLooks) continue;
    out.searched = 0;
    break;
  }
  out.seen = static_cast<int>(found.size());
  if (found.size() > kMostSpots) found.resize(kMostSpots);
  for (const Found& f : found) {
    out.all.push_back(f.spot);
    out.all.back().x = static_cast<int>(std::lround(f.x / f.sum));
    out.all.back().y = static_cast<int>(std::lround(f.y / f.sum));
  }
  return out;
}

AtPlace SpotSearch::at(const Spot& spot) const {
  bool even = true;
  for (int y = spot.y - 1; y <= spot.y + 1; ++y)
    for (int x = spot.x - 1; x <= spot.x + 1; ++x)
      for (int colour = 0; colour < 3; ++colour) {
        const bool searched = in_reach(x, y) && threshold(x, y, colour) > 0;
        const int level = searched ? ring_level(x, y, colour) : -1;
        if (level < 0) {
          even = false;
          continue;
        }
        if (std::abs(pixel(x, y)[colour] - level) >= 0.5 * threshold(x, y, colour)) return AtPlace::stands;
        if (spot.bright ? level > spot.level + kMostDarker : level < spot.level - kMostDarker) even = false;
      }
  return even ? AtPlace::clean : AtPlace::unsearched;
}
}  // namespace hb::checks::camera
