/// Isotonic (monotone, non-decreasing) least-squares regression by pooling adjacent violators.
/// Source of the method: Barlow, Bartholomew, Bremner, Brunk, "Statistical Inference under Order
/// Restrictions" (1972), the PAVA theorem: the weighted mean of each maximal violating block is the solution.
/// Units: those of y. Cost: linear. Pure; any thread.
#pragma once

#include <span>
#include <vector>

namespace hb::kernel {

/// The non-decreasing sequence nearest to `y` in weighted least squares. `weights`: empty (all one) or as
/// many as `y`, each > 0; anything else throws std::invalid_argument. An empty `y` gives an empty fit.
[[nodiscard]] std::vector<double> isotonic(std::span<const double> y, std::span<const double> weights = {});

/// Root mean square of y - isotonic(y): how far a sequence is from being monotone, in its own unit. 0 when
/// `y` is empty.
[[nodiscard]] double monotone_residual_rms(std::span<const double> y);

}  // namespace hb::kernel
