/// Random numbers addressed by (seed, stream, index) in place of a running generator: what one part of the
/// phone says never depends on how often another part was asked, so that a fault changes its own part only.
/// Formulas: SplitMix64 finaliser (public domain, from memory); Box and Muller, 1958. Threads: pure.
#pragma once

#include <cmath>
#include <cstdint>
#include <numbers>
#include <string_view>

namespace hb::standin {
[[nodiscard]] constexpr std::uint64_t mixed(std::uint64_t x) noexcept {
  x += 0x9e3779b97f4a7c15u;
  x = (x ^ (x >> 30)) * 0xbf58476d1ce4e5b9u;
  x = (x ^ (x >> 27)) * 0x94d049bb133111ebu;
  return x ^ (x >> 31);
}

class Noise {
 public:
  constexpr Noise(std::uint64_t seed, std::string_view stream) noexcept : key_(mixed(seed)) {
    for (const char c : stream) key_ = mixed(key_ ^ static_cast<unsigned char>(c));
  }
  /// In [0, 1).
  [[nodiscard]] double uniform(std::uint64_t n) const noexcept {
    return static_cast<double>(mixed(key_ ^ mixed(n)) >> 11) * 0x1p-53;
  }
  [[nodiscard]] double uniform(std::uint64_t n, double from, double to) const noexcept {
    return from + (to - from) * uniform(n);
  }
  /// Mean 0, standard deviation 1.
  [[nodiscard]] double gauss(std::uint64_t n) const noexcept {
    const double u = 1.0 - uniform(2 * n), v = uniform(2 * n + 1);
    return std::sqrt(-2 * std::log(u)) * std::cos(2 * std::numbers::pi * v);
  }

 private:
  std::uint64_t key_;
};
}  // namespace hb::standin
