#include "tools/standin/physics/pack.hpp"

#include <algorithm>
#include <cmath>

#include "tools/standin/physics/model.hpp"

namespace hb::standin {

Pack::Pack(std::vector<CellParameters> cells, BodyParameters body, double soc, double start_c)
    : cells_(std::move(cells)), body_(body), state_(cells_.size()), body_c_(start_c) {
  for (auto& s : state_) s.soc = soc, s.temperature_c = start_c;
  voltage_v_ = open_circuit_v(soc);
}

double Pack::emf(std::size_t k) const noexcept { return open_circuit_v(state_[k].soc) + state_[k].v_rc; }

Pack::Sums Pack::sums() const noexcept {
  Sums out;
  for (std::size_t k = 0; k < cells_.size(); ++k) {
    if (!cells_[k].connected) continue;
    out.g += 1 / cells_[k].r0_ohm;
    out.s += emf(k) / cells_[k].r0_ohm;
  }
  return out;
}

void Pack::step_power(double dt_s, double net_w, double body_heat_w) {
  const auto [g, s] = sums();
  const double root = s * s + 4 * g * net_w;
  double v = (s + std::sqrt(std::max(root, 0.0))) / (2 * g);
  if (net_w > 0) v = std::min(v, std::max(body_.full_v, s / g));
  apply(dt_s, v, body_heat_w);
}

void Pack::step_current(double dt_s, double net_a, double body_heat_w) {
  const auto [g, s] = sums();
  apply(dt_s, (net_a + s) / g, body_heat_w);
}

void Pack::apply(double dt_s, double volts, double body_heat_w) {
  voltage_v_ = volts;
  double into_body_w = body_heat_w - (body_c_ - body_.ambient_c) / body_.to_ambient_k_per_w;
  for (std::size_t k = 0; k < cells_.size(); ++k) {
    const CellParameters& p = cells_[k];
    CellState& s = state_[k];
    s.current_a = p.connected ? (volts - emf(k)) / p.r0_ohm : 0;
    const double heat_w = s.current_a * s.current_a * p.r0_ohm + s.v_rc * s.v_rc / p.r1_ohm + s.foreign_w;
    const double kept = std::exp(-dt_s / p.tau_s);  // exact for a current held over the step
    s.v_rc = s.v_rc * kept + s.current_a * p.r1_ohm * (1 - kept);
    s.soc += s.current_a * dt_s / 3.6 / p.capacity_mah;
    const double to_body_w = (s.temperature_c - body_c_) / p.to_body_k_per_w;
    s.temperature_c += dt_s * (heat_w - to_body_w) / p.heat_capacity_j_per_k;
    into_body_w += to_body_w;
  }
  body_c_ += dt_s * into_body_w / body_.heat_capacity_j_per_k;
}

double Pack::current_a() const noexcept {
  double sum = 0;
  for (const auto& s : state_) sum += s.current_a;
  return sum;
}

double Pack::charge_mah() const noexcept {
  double sum = 0;
  for (std::size_t k = 0; k < cells_.size(); ++k)
    if (cells_[k].connected) sum += state_[k].soc * cells_[k].capacity_mah;
  return sum;
}

double Pack::soc() const noexcept {
  double capacity = 0;
  for (const auto& c : cells_)
    if (c.connected) capacity += c.capacity_mah;
  return capacity > 0 ? charge_mah() / capacity : 0;
}
}  // namespace hb::standin
