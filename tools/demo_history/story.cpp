#include "story.hpp"

#include <cmath>
#include <numbers>
#include <optional>

namespace hb::demo {
namespace {
constexpr std::int64_t kHour = 3600;

struct Lot {
  Term name;
  double weight, life_days, hysteresis_deg;
};
/// The third lot is the bad one.
constexpr std::array<Lot, 4> kHingeLots{Lot{"LOT-24K7", 0.34, 3200, 0.85}, Lot{"LOT-24M2", 0.28, 2900, 0.90},
                                        Lot{"LOT-25A1", 0.20, 380, 1.45}, Lot{"LOT-25C4", 0.18, 3000, 0.80}};
constexpr std::array<Lot, 3> kScreenLots{Lot{"SCR-310", 0.5, 3600, 0}, Lot{"SCR-311", 0.3, 3400, 0},
                                         Lot{"SCR-402", 0.2, 2400, 0}};
constexpr std::array<Lot, 3> kCellLots{Lot{"CELL-118", 0.45, 4000, 0}, Lot{"CELL-121", 0.35, 3800, 0},
                                       Lot{"CELL-130", 0.2, 2000, 0}};

template <std::size_t N>
const Lot& pick_lot(Draw& draw, const std::array<Lot, N>& lots) {
  double x = draw.uniform();
  for (const Lot& lot : lots)
    if ((x -= lot.weight) < 0) return lot;
  return lots.back();
}

/// One check with one judged measure, by the program's own decision rule.
checks::CheckResult one_check(Term id, Term title, const checks::Measure& m, const checks::Limit& limit) {
  checks::CheckResult c;
  c.id = id.str();
  c.title = c.customer_title = title.str();
  c.verdicts = checks::score_by_rule({&m, 1}, {&limit, 1});
  c.outcome = c.verdicts.front().outcome;
  c.bench_seconds = 60;
  return c;
}

checks::Limit limit(std::string key, std::optional<double> lower, std::optional<double> upper) {
  return {std::move(key), {}, lower, upper, checks::LimitOrigin::learned};
}
}  // namespace

double Draw::uniform() { return static_cast<double>(engine_() >> 11) * 0x1p-53; }

double Draw::normal(double mean, double sd) {
  // Box and Muller 1958; 1 - u keeps the logarithm finite.
  const double r = std::sqrt(-2 * std::log(1 - uniform()));
  return mean + sd * r * std::cos(2 * std::numbers::pi * uniform());
}

double Draw::weibull(double life, double shape) {
  return life * std::pow(-std::log(1 - uniform()), 1 / shape);
}

std::size_t Draw::pick(std::initializer_list<double> weights) {
  double x = uniform();
  std::size_t i = 0;
  for (const double w : weights) {
    if ((x -= w) < 0) return i;
    ++i;
  }
  return weights.size() - 1;
}

char Draw::letter() { return "0123456789ABCDEFGHJKMNPQRSTVWXYZ"[engine_() >> 59]; }

Story make_story(Draw& draw, std::int64_t opened_s) {
  Story s;
  s.opened_s = opened_s;
  s.released_s = opened_s + 2 * kHour + static_cast<std::int64_t>(draw.uniform() * 40 * kHour);
  s.folds = draw.uniform() < 0.7;
  s.model = s.folds ? Term("Velmora Petal") : Term("Velmora Plank");
  s.job.consent_tests = true;
  s.job.colour_agreed = draw.uniform() < 0.5 ? Term("graphite") : Term("mint");
  double life = 0;
  if (draw.uniform() < 0.25) {
    const Lot& lot = pick_lot(draw, kCellLots);
    s.job.fault = Term("battery drains fast");
    s.job.repair_kind = Term("battery swap");
    s.job.parts_fitted = {{Term("battery pack"), lot.name}};
    life = draw.weibull(lot.life_days, 0.9);
    s.trouble = Trouble::battery;
  } else if (s.folds) {
    const Lot& lot = pick_lot(draw, kHingeLots);
    s.job.fault = Term("inner screen dark along the fold");
    s.job.repair_kind = Term("display-hinge swap");
    s.job.parts_fitted = {{Term("display-hinge assembly"), lot.name}};
    life = draw.weibull(lot.life_days, 1.1);
    s.trouble = lot.hysteresis_deg > 1.2 || draw.uniform() < 0.6 ? Trouble::hinge : Trouble::touch;
  } else {
    const Lot& lot = pick_lot(draw, kScreenLots);
    s.job.fault = Term("screen cracked; after a fall");
    s.job.repair_kind = Term("display swap");
    s.job.parts_fitted = {{Term("display assembly"), lot.name}};
    life = draw.weibull(lot.life_days, 1.0);
    s.trouble = draw.uniform() < 0.7 ? Trouble::touch : Trouble::charging;
  }
  s.life_days = std::max(life, 0.5);
  for (int i = 0; i < 16; ++i) s.tag += "0123456789abcdef"[static_cast<std::size_t>(draw.uniform() * 16)];
  for (int i = 0; i < 4; ++i) s.tail += draw.letter();
  return s;
}

std::vector<checks::CheckResult> make_checks(Draw& draw, const Story& s, bool on_return) {
  // Early trouble shows a little at release; what does not come back for years shows nothing.
  const double nearness = on_return ? 0 : 1 / (1 + s.life_days / 120);
  const auto sign = [&](Trouble t, double good, double release, double failed, double sd) {
    const double mean = s.trouble != t ? good : on_return ? failed : good + (release - good) * nearness;
    return draw.normal(mean, sd);
  };
  std::vector<checks::CheckResult> out;
  out.push_back(one_check("touch_grid", "Touch grid",
                          {"touch_grid.dead_area_pct",
                           {},
                           std::max(0.0, sign(Trouble::touch, 0.1, 0.45, 3.0, 0.04)),
                           0.03,
                           "%",
                           4200},
                          limit("touch_grid.dead_area_pct", std::nullopt, 0.6)));
  if (s.folds)
    out.push_back(one_check(
        "hinge_sweep", "Hinge sweep",
        {"hinge_sweep.hysteresis_deg", {}, sign(Trouble::hinge, 0.85, 2.3, 4.5, 0.12), 0.1, "deg", 6},
        limit("hinge_sweep.hysteresis_deg", std::nullopt, 2.2)));
  out.push_back(
      one_check("batteries", "Batteries",
                {"batteries.resistance_mohm", {}, sign(Trouble::battery, 98, 128, 210, 4), 3, "mohm", 8},
                limit("batteries.resistance_mohm", std::nullopt, 140.0)));
  out.push_back(
      one_check("wireless_charging", "Wireless charging",
                {"wireless_charging.couple_s", {}, sign(Trouble::charging, 2.5, 4.5, 12, 0.3), 0.2, "s", 1},
                limit("wireless_charging.couple_s", std::nullopt, 5.0)));
  return out;
}
}  // namespace hb::demo
