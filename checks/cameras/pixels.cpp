#include "pixels.hpp"

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <nlohmann/json.hpp>

namespace hb::checks::camera {
namespace {
using Take = std::span<const PixelLook>;
constexpr double kSamePlaces = 9;

bool shows(const Spots& spots, const Spot& spot) {
  return std::any_of(spots.all.begin(), spots.all.end(), [&](const Spot& s) {
    return std::abs(s.x - spot.x) <= 1 && std::abs(s.y - spot.y) <= 1 && s.bright == spot.bright;
  });
}

kernel::Point middle(const Spot& s) noexcept { return {s.x + 0.5, s.y + 0.5}; }

/// The farthest that the scene at the spot moved within the take.
double most_moved_px(Take take, const Spot& spot) noexcept {
  double far = 0;
  for (const auto& f : take.subspan(1)) far = std::max(far, moved_px(take.front().map, f.map, middle(spot)));
  return far;
}

/// What the second aim says of staying spot `i`: it stands where it stood before another scene, nothing does,
/// or one cannot know.
AtPlace second(const PixelLook& first, std::span<const Elsewhere> elsewhere, const Spot& spot,
               std::size_t i) noexcept {
  bool stood = false;
  for (const Elsewhere& look : elsewhere) {
    if (!(moved_px(first.map, look.map, middle(spot)) >= kTold_px)) continue;
    if (look.at[i] == AtPlace::clean) return AtPlace::clean;
    stood = stood || look.at[i] == AtPlace::stands;
  }
  return stood ? AtPlace::stands : AtPlace::unsearched;
}

double by_chance(Take take, double pixels) noexcept {
  double n = static_cast<double>(take.front().spots.all.size());
  for (const auto& f : take.subspan(1)) n *= std::min(1.0, kSamePlaces * f.spots.seen / pixels);
  return n;
}
}  // namespace

void to_json(nlohmann::json& j, const PixelLook& l) { j = {{"spots", l.spots}, {"map", l.map.h}}; }
void from_json(const nlohmann::json& j, PixelLook& l) {
  j.at("spots").get_to(l.spots);
  j.at("map").get_to(l.map.h);
}
void to_json(nlohmann::json& j, const Elsewhere& e) {
  std::vector<int> at;
  for (const auto a : e.at) at.push_back(static_cast<int>(a));
  j = {{"map", e.map.h}, {"at", at}};
}
void from_json(const nlohmann::json& j, Elsewhere& e) {
  j.at("map").get_to(e.map.h);
  e.at.clear();
  for (const int a : j.at("at").get<std::vector<int>>())  // an unknown word is one that tells nothing
    e.at.push_back(a == 0 ? AtPlace::clean : a == 1 ? AtPlace::stands : AtPlace::unsearched);
}

double moved_px(const kernel::Homography& one, const kernel::Homography& other,
                kernel::Point place) noexcept {
  const auto& h = one.h;  // its inverse but for a factor: the adjugate
  const kernel::Homography back{
      {h[4] * h[8] - h[5] * h[7], h[2] * h[7] - h[1] * h[8], h[1] * h[5] - h[2] * h[4],
       h[5] * h[6] - h[3] * h[8], h[0] * h[8] - h[2] * h[6], h[2] * h[3] - h[0] * h[5],
       h[3] * h[7] - h[4] * h[6], h[1] * h[6] - h[0] * h[7], h[0] * h[4] - h[1] * h[3]}};
  const kernel::Point there = other.at(back.at(place));
  return std::hypot(there.x - place.x, there.y - place.y);
}

std::vector<Spot> staying(Take take) {
  std::vector<Spot> out;
  if (take.size() < 2) return out;
  for (const Spot& spot : take.front().spots.all)
    if (std::all_of(take.begin() + 1, take.end(), [&](const auto& f) { return shows(f.spots, spot); }))
      out.push_back(spot);
  return out;
}

Standing standing(Take take, std::span<const Elsewhere> elsewhere, int width, int height) {
  Standing out;
  if (take.empty()) return out;
  double places = 0;
  for (const auto& f : take)
    out.searched += f.spots.searched / static_cast<double>(take.size()), places += f.spots.samples;
  if (places > 0) out.u_searched = std::sqrt(out.searched * (1 - out.searched) / places);
  out.chance = by_chance(take, std::max(1.0, out.searched * width * height));
  const auto spots = staying(take);
  for (std::size_t i = 0; i < spots.size(); ++i) {
    const AtPlace then = second(take.front(), elsewhere, spots[i], i);
    if (most_moved_px(take, spots[i]) >= kTold_px || then == AtPlace::stands)
      ++out.on_sensor;
    else if (then == AtPlace::unsearched)
      ++out.undecided;
  }
  return out;
}
}  // namespace hb::checks::camera
