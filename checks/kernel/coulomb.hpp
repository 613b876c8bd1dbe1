/// Charge, resistance and open-circuit voltage of a cell from its gauge's samples.
/// Sign convention: current positive while charging (Linux power_supply ABI); charge positive into the cell.
/// Units: seconds, milliampere, millivolt, milliohm, mAh (1 mAh = 3.6 C). Pure; any thread.
#pragma once

#include <optional>
#include <span>
#include <vector>

namespace hb::kernel {

struct CurrentSample {
  double t_s = 0, current_ma = 0;
};

/// Integral of current over time, trapezoid rule: sum of (I_i + I_(i+1))/2 dt.
struct Charge {
  double mah = 0;
  double u_mah = 0;  ///< standard uncertainty: reading noise, common offset, and the trapezoid's own error
  double duration_s = 0;
  int n = 0;
};

/// `u_reading_ma`: independent uncertainty of each reading (noise and rounding). `u_offset_ma`: uncertainty
/// of an offset common to all readings; it grows with the duration. The trapezoid's own error is taken as
/// a third of the difference between all samples and every second one (Richardson), as a standard
/// uncertainty. nullopt: fewer than 2 samples, a value that is not finite, or times that do not increase.
[[nodiscard]] std::optional<Charge> charge_mah(std::span<const CurrentSample> samples,
                                               double u_reading_ma = 0, double u_offset_ma = 0);

/// A terminal reading: voltage and current with standard uncertainties.
struct Terminal {
  double voltage_mv = 0, current_ma = 0;
  double u_voltage_mv = 0, u_current_ma = 0;
};
struct Resistance {
  double mohm = 0, u_mohm = 0;
};
/// DC resistance from a step between two loads: (U1 - U2) / (I1 - I2), charging positive, so that a heavier
/// discharge has the smaller (more negative) current (IEC 61960-3, DC method). Uncertainty by the first-order
/// law (JCGM 100:2008 5.1.2). nullopt: the step is 0 or a value is not finite.
[[nodiscard]] std::optional<Resistance> step_resistance(const Terminal& before, const Terminal& after);

/// Mean of several readings of one steady state, with u from scatter and from rounding (step / sqrt 12).
/// `resolution_*`: the gauge's own steps. nullopt: sizes differ or nothing there.
[[nodiscard]] std::optional<Terminal> steady_state(std::span<const double> voltage_mv,
                                                   std::span<const double> current_ma,
                                                   double resolution_mv = 1, double resolution_ma = 1);

/// Open-circuit voltage against state of charge: piecewise linear through the profile's points.
class OcvCurve {
 public:
  /// `soc` in 0..1 and `volts`, both strictly increasing, at least 2 points. nullopt otherwise.
  [[nodiscard]] static std::optional<OcvCurve> from(std::vector<double> soc, std::vector<double> volts);
  /// Volts at a state of charge; held at the ends outside the curve.
  [[nodiscard]] double volts(double soc) const noexcept;
  struct Inverse {
    double soc = 0;
    double volts_per_soc = 0;  ///< slope there: u(soc) = u(volts) / slope
    bool outside = false;      ///< the voltage is beyond the curve; soc is its end
  };
  [[nodiscard]] Inverse soc(double volts) const noexcept;
  /// Slope at a state of charge, V per unit of SOC.
  [[nodiscard]] double slope(double soc) const noexcept;

 private:
  OcvCurve() = default;
  std::vector<double> soc_, volts_;
};

/// Full capacity from a charge between two states of charge: dQ / (soc2 - soc1), mAh.
struct Capacity {
  double mah = 0, u_mah = 0;
};
/// nullopt: the states of charge are equal or a value is not finite.
[[nodiscard]] std::optional<Capacity> capacity_mah(double charge_mah, double u_charge_mah, double soc_from,
                                                   double soc_to, double u_soc);

/// Share of the total current that the first of two parallel cells carries: r2 / (r1 + r2) (circuit law).
[[nodiscard]] double parallel_share(double r1_mohm, double r2_mohm) noexcept;
/// Current between two cells joined in parallel, mA: (V1 - V2) / (R1 + R2), positive out of cell 1.
[[nodiscard]] double balance_current_ma(double v1_mv, double v2_mv, double r1_mohm, double r2_mohm) noexcept;

}  // namespace hb::kernel
