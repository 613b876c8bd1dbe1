/// Cells in parallel behind one pair of terminals, with their heat.
///
/// Each cell: open-circuit voltage by its state of charge, series resistance R0, one RC branch (25 mohm, 20
/// s; first-order equivalent circuit, common practice, no source). Currents in A, positive = charging.
/// Terminal voltage V from sum((V - E_k) / R_k) = I, E_k = OCV_k + V_RC,k (Kirchhoff); for a power P = V I
/// this is the larger root of G V^2 - S V - P = 0 with G = sum(1/R_k), S = sum(E_k/R_k).
/// Heat: each cell is a thermal node (I^2 R) joined to the body, the body to the ambient air.
/// Threads: a plain value type.
#pragma once

#include <vector>

namespace hb::standin {
struct CellParameters {
  double capacity_mah = 0;
  double r0_ohm = 0;
  double r1_ohm = 0.025;
  double tau_s = 20;
  double heat_capacity_j_per_k = 30;
  double to_body_k_per_w = 4;
  bool connected = true;
};
struct CellState {
  double soc = 0;  ///< 0..1 of capacity_mah
  double v_rc = 0;
  double current_a = 0;
  double temperature_c = 0;
  double foreign_w = 0;  ///< heat of a short inside
};
struct BodyParameters {
  double heat_capacity_j_per_k = 150;
  double to_ambient_k_per_w = 5;
  double ambient_c = 24;
  double full_v = 4.35;  ///< a charger holds this voltage at most
};

class Pack {
 public:
  /// All cells start at rest at `soc`; body and cells at `start_c`.
  Pack(std::vector<CellParameters> cells, BodyParameters body, double soc, double start_c);

  /// `net_w`: charger minus load at the terminals; a positive net is cut back at full_v.
  /// `body_heat_w`: heat released outside the cells. dt_s <= 0.02.
  void step_power(double dt_s, double net_w, double body_heat_w);
  /// The same with the total current given.
  void step_current(double dt_s, double net_a, double body_heat_w);

  /// Heat released inside cell `k` besides its own, from now on.
  void heat_cell(std::size_t k, double watts) { state_[k].foreign_w = watts; }

  [[nodiscard]] double voltage_v() const noexcept { return voltage_v_; }
  [[nodiscard]] double current_a() const noexcept;
  [[nodiscard]] double body_c() const noexcept { return body_c_; }
  [[nodiscard]] double soc() const noexcept;  ///< charge of the connected cells over their capacity
  [[nodiscard]] double charge_mah() const noexcept;
  [[nodiscard]] const std::vector<CellState>& cells() const noexcept { return state_; }
  [[nodiscard]] const std::vector<CellParameters>& parameters() const noexcept { return cells_; }

 private:
  struct Sums {
    double g = 0, s = 0;
  };
  [[nodiscard]] double emf(std::size_t k) const noexcept;
  [[nodiscard]] Sums sums() const noexcept;
  void apply(double dt_s, double volts, double body_heat_w);

  std::vector<CellParameters> cells_;
  BodyParameters body_;
  std::vector<CellState> state_;
  double voltage_v_ = 0;
  double body_c_ = 0;
};
}  // namespace hb::standin
