// Verdicts -> findings in assembly terms.
#include "checks/batteries/batteries.hpp"
#include "checks/seen.hpp"

namespace hb::checks {
namespace {
constexpr std::string_view kPresent = "batteries.present", kSoh = "batteries.soh_pct",
                           kDesign = "batteries.design_ratio", kResistance = "batteries.resistance_mohm",
                           kShare = "batteries.share_error_pct", kOcv = "batteries.rest_ocv_error_mv",
                           kImbalance = "batteries.imbalance_mv";

/// The share of the load that this cell should carry, in per cent.
double expected_share_pct(const Batteries::Config& config, std::size_t i) {
  double all = 0;
  bool by_resistance = true;
  for (const auto& c : config.cells) by_resistance = by_resistance && c.r_design_mohm.has_value();
  const auto weight = [&](const Batteries::Cell& c) {
    return by_resistance ? 1 / *c.r_design_mohm : c.design_mah;
  };
  for (const auto& c : config.cells) all += weight(c);
  return 100 * weight(config.cells[i]) / all;
}

std::optional<Finding> of_cell(const Seen& s, double expected_share) {
  const Verdict* share = s.find(kShare);
  const bool low_share = share != nullptr && s.bad(kShare) && share->measure.value < 0;
  // Less than a tenth of its share: it does not take part.
  const bool idle = low_share && share->measure.value < -0.9 * expected_share;
  if (s.bad(kPresent) || idle)
    return s.finding(
        "cell_not_connected",
        "This cell takes no part: either its connector is not seated, or its flex or its own "
        "protection is open.",
        "Power off, then reseat this cell's connector; handle cells without metal tools, and never "
        "bend one.",
        {kPresent, kShare});
  if (s.bad(kDesign))
    return s.finding(
        "cell_wrong",
        "The cell's own design capacity is not this model's: either a wrong pack was fitted, or its "
        "gauge was never set up.",
        "Compare the pack's label with the parts list before anything else.", {kDesign, kSoh});
  if (s.bad(kSoh))
    return s.finding(
        "cell_aged",
        "The cell holds much less than it did when new: either it is worn, or its gauge still holds "
        "the old cell's figure.",
        "Ask whether this pack was to be replaced. If it is new, charge fully, drain and charge once, "
        "then run again. A swollen or dented cell: stop, do not charge or press it, follow the local "
        "rules.",
        {kSoh, kResistance});
  if (s.bad(kResistance) || (low_share && s.find(kResistance) == nullptr))
    return s.finding(
        "connector_resistive",
        "The cell is in health but its path has too much resistance: either its connector is dirty or "
        "not fully seated, or its flex is damaged.",
        "Power off, reseat and look at this cell's connector and flex. If the resistance stays, the cell "
        "itself is weak. A hot connector: stop and let it cool.",
        {kResistance, kShare, kSoh});
  if (s.bad(kOcv))
    return s.finding(
        "gauge_not_matched",
        "The rest voltage does not fit the gauge's state of charge: either the gauge was not set up "
        "for this cell, or the phone had not rested.",
        "Let the phone lie ten minutes and run again; then a full charge to let the gauge learn.", {kOcv});
  return std::nullopt;
}
}  // namespace

std::vector<Finding> Batteries::diagnose(std::span<const Verdict> verdicts, const Capture&,
                                         const Config& config) {
  std::vector<Finding> out;
  for (std::size_t i = 0; i < config.cells.size(); ++i)
    if (auto f = of_cell({verdicts, config.cells[i].name}, expected_share_pct(config, i)))
      out.push_back(*std::move(f));
  const Seen pack{verdicts, {}};
  if (out.empty() && pack.bad(kImbalance))
    out.push_back(pack.finding(
        "cells_out_of_balance",
        "The cells are not equally full: either one was fitted at a different charge, or one "
        "is hardly connected.",
        "Let the phone lie an hour and run again; then reseat both battery connectors.", {kImbalance}));
  return out;
}

}  // namespace hb::checks
