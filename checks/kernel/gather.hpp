/// Marks that a person put on one surface in several looks, gathered to the things that they mark.
/// Agglomerative clustering with centroid linkage (Sokal and Michener 1958), under two rules: two places of
/// one look are two things, and centres farther apart than `reach` are. Pure; any thread.
#pragma once

#include <span>
#include <vector>

namespace hb::kernel {

struct Place {
  double x = 0, y = 0;  ///< same unit as `reach`
  int look = 0;
};

/// For each place the number of its thing, 0, 1, ... in the order of their first places. Nearest centres
/// join first; of equal distances the ones that stand first. About n^3 steps: meant for hundreds.
[[nodiscard]] std::vector<int> gather(std::span<const Place> places, double reach);

/// Probability that two looks at one thing lie farther apart than `reach` when each tap misses by a normal
/// error of standard deviation `sd` in x and in y: exp(-reach^2 / (4 sd^2)) (Rayleigh, sd times sqrt 2).
[[nodiscard]] double split_probability(double reach, double sd);
}  // namespace hb::kernel
