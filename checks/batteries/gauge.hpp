/// What a gauge's samples say once its sign and unit are settled: steps at the edges of the load, resistance.
/// Pure; any thread. mV, mA, seconds.
#pragma once

#include <optional>
#include <vector>

#include "checks/batteries/batteries.hpp"
#include "checks/kernel/coulomb.hpp"

namespace hb::checks::gauge {

/// Smallest step between two different values of one column, the gauge's resolution as seen; `fallback` when
/// the column never changed.
[[nodiscard]] double resolution(std::vector<double> values, double fallback);

/// Change of voltage and current of one cell at one edge of the load, where phase `into_phase` begins:
/// straight lines against time through the samples of 8 s on either side, carried to the edge. A slow
/// relaxation goes into the slopes.
struct Edge {
  kernel::Terminal before, after;
  [[nodiscard]] double step_ma() const { return after.current_ma - before.current_ma; }
  [[nodiscard]] double u_step_ma() const;
};
/// nullopt: fewer than 4 samples with voltage and current on a side.
[[nodiscard]] std::optional<Edge> edge(const Batteries::Trace& trace, double at_s, int into_phase);

/// Factor that turns each cell's reported current into mA, positive while charging: 1, -1, or those times
/// 1000 when the driver gives mA where the ABI says uA (the largest current under load below 10 mA: a phone
/// draws 50 mA to 6 A). 0 for a cell that reports no current.
/// The sign is settled by the load step (more load makes the current more negative), where it is 50 mA or
/// more; else by a status of charging or discharging with 50 mA or more; else it is that of the other cells.
/// unsupported: none of these settles it, or the status is discharging while the settled sign says charging.
[[nodiscard]] Result<std::vector<double>> current_factors(const Batteries::Capture& capture);

/// The trace with its currents multiplied by `factor`.
[[nodiscard]] Batteries::Trace with_factor(Batteries::Trace trace, double factor);

/// Both edges of the load.
struct Step {
  double step_ma = 0, u_step_ma = 0;             ///< mean size, positive
  std::optional<kernel::Resistance> resistance;  ///< nullopt when the step is under 150 mA
};
[[nodiscard]] std::optional<Step> load_step(const Batteries::Trace& trace, double on_s, double off_s);

}  // namespace hb::checks::gauge
