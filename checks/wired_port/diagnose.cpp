// Verdicts -> findings in assembly terms: first what concerns one way round only.
#include "checks/seen.hpp"
#include "checks/wired_port/wired_port.hpp"

namespace hb::checks {
namespace {
constexpr std::string_view kPowered = "wired_port.powered", kLimit = "wired_port.current_limit_ma",
                           kCurrent = "wired_port.current_ma", kVoltage = "wired_port.port_voltage_mv",
                           kResistance = "wired_port.resistance_mohm", kDropouts = "wired_port.dropouts",
                           kWiggled = "wired_port.wiggle_dropouts", kSpeed = "wired_port.link_mbit_s";

/// Both ways round of the plug.
struct Sides {
  std::span<const Verdict> all;

  [[nodiscard]] Seen side(int n) const { return {all, WiredPort::part(n)}; }
  [[nodiscard]] bool either(std::string_view key) const { return side(1).bad(key) || side(2).bad(key); }
  [[nodiscard]] bool both(std::string_view key) const { return side(1).bad(key) && side(2).bad(key); }
  [[nodiscard]] Finding finding(Term id, Term says, Term open_again, ShopText part,
                                std::initializer_list<std::string_view> keys) const {
    Finding f{id, says, open_again, std::move(part), side(1).evidence(keys)};
    for (auto& m : side(2).evidence(keys)) f.evidence.push_back(std::move(m));
    return f;
  }
  /// The side on which it is bad; empty when it is so both ways.
  [[nodiscard]] ShopText where(std::string_view key) const {
    return both(key) ? ShopText{} : WiredPort::part(side(1).bad(key) ? 1 : 2);
  }
};
}  // namespace

std::vector<Finding> WiredPort::diagnose(std::span<const Verdict> verdicts, const Capture&, const Config&) {
  const Sides s{verdicts};
  std::vector<Finding> out;
  if (s.both(kPowered)) {
    out.push_back(s.finding("port_dead", "The phone takes no power from the cable, either way round.",
                            "Try another cable and charger; then reseat the connector of the port's board.",
                            {}, {kPowered}));
    return out;
  }
  if (s.either(kPowered))
    out.push_back(s.finding(
        "port_one_side_dead", "The phone takes no power when the plug is this way round.",
        "Look into the port for a bent or dirty contact row; then reseat or change the port's board.",
        s.where(kPowered), {kPowered}));
  else if (s.either(kSpeed) && !s.both(kSpeed))
    out.push_back(s.finding(
        "port_one_side_dead", "The data link is slower when the plug is this way round.",
        "Look into the port for a bent or dirty contact row; then reseat the flex of the port's board.",
        s.where(kSpeed), {kSpeed}));
  else if (s.both(kSpeed))
    out.push_back(s.finding(
        "port_data_slow", "The data link is slow both ways: either the cable, or the port's data lines.",
        "Try another data cable; then reseat the flex of the port's board.", {}, {kSpeed}));
  const bool loose = s.either(kDropouts) || s.either(kWiggled);
  if (loose)
    out.push_back(
        s.finding("port_intermittent",
                  "Charging stops and starts when the plug is moved: either the port is worn or "
                  "dirty, or its board is loose.",
                  "Clean the port; then reseat the port's board and its flex, and look at the screws.",
                  s.where(s.either(kWiggled) ? kWiggled : kDropouts), {kDropouts, kWiggled}));
  if (loose) return out;
  if (s.either(kResistance) || s.either(kVoltage))
    out.push_back(s.finding("port_resistive",
                            "The port's voltage falls too far under load: either the contacts or the flex "
                            "of the port are resistive, or the cable is.",
                            "Try the bench's reference cable; then clean the port and reseat its flex.",
                            s.where(s.either(kResistance) ? kResistance : kVoltage),
                            {kResistance, kVoltage, kCurrent, kLimit}));
  else if (s.either(kCurrent) || s.either(kLimit))
    out.push_back(
        s.finding("port_current_low",
                  "The phone takes less current than it should although the voltage holds: either the "
                  "charger and the phone agreed on less, or the charging part of the phone is damaged.",
                  "Try the bench's reference charger; then clean the port's middle contacts.",
                  s.where(s.either(kCurrent) ? kCurrent : kLimit), {kCurrent, kLimit}));
  return out;
}

}  // namespace hb::checks
