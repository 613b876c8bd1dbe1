#include "strokes.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "checks/kernel/line_fit.hpp"
#include "checks/kernel/summary.hpp"

namespace hb::checks::touch {
namespace {
constexpr double kDegree = std::numbers::pi / 180;

bool ascending(const std::vector<std::int64_t>& v) { return std::is_sorted(v.begin(), v.end()); }

/// Angle between a direction and the nearer axis, degrees.
double off_axis_deg(double dx, double dy) {
  const double a = std::abs(std::atan2(dy, dx)) / kDegree;
  const double b = a > 90 ? 180 - a : a;
  return std::min(b, 90 - b);
}

/// Direction of the last (or first) few millimetres of a stroke; nullopt if it hardly moved.
std::optional<At> direction(const Stroke& s, bool at_end) {
  const auto n = s.at.size();
  const At end = at_end ? s.at.back() : s.at.front();
  for (std::size_t i = 1; i < n; ++i) {
    const At p = at_end ? s.at[n - 1 - i] : s.at[i];
    const double mm = distance(p, end);
    if (mm < 4) continue;
    const double sign = at_end ? 1 : -1;
    return At{sign * (end.x - p.x) / mm, sign * (end.y - p.y) / mm};
  }
  return std::nullopt;
}

bool over_dropped(const TouchGrid::DisplayCapture& c, std::int64_t from, std::int64_t to) {
  for (std::size_t i = 0; i < c.dropped_from_us.size(); ++i) {
    const auto end = i < c.dropped_to_us.size() ? c.dropped_to_us[i] : c.sweep_to_us;
    if (c.dropped_from_us[i] <= to && end >= from) return true;
  }
  return false;
}
}  // namespace

bool well_formed(const TouchGrid::DisplayCapture& c) {
  const auto n = c.points.t_us.size();
  if (c.points.slot.size() != n || c.points.contact.size() != n || c.points.x.size() != n ||
      c.points.y.size() != n)
    return false;
  if (!ascending(c.points.t_us) || c.rest_to_us < c.rest_from_us || c.sweep_to_us < c.sweep_from_us)
    return false;
  if (c.dropped_to_us.size() > c.dropped_from_us.size()) return false;
  return std::all_of(c.points.contact.begin(), c.points.contact.end(),
                     [&](int k) { return k >= 0 && static_cast<std::size_t>(k) < c.up_us.size(); });
}

std::vector<Stroke> strokes(const TouchGrid::DisplayCapture& c, const TouchGrid::Display& d,
                            std::int64_t from_us, std::int64_t to_us) {
  std::vector<Stroke> by_contact(c.up_us.size());
  for (std::size_t i = 0; i < c.points.t_us.size(); ++i) {
    Stroke& s = by_contact[static_cast<std::size_t>(c.points.contact[i])];
    s.t_us.push_back(c.points.t_us[i]);
    s.at.push_back(to_mm(d, c.points.x[i], c.points.y[i]));
  }
  std::vector<Stroke> out;
  for (std::size_t k = 0; k < by_contact.size(); ++k) {
    Stroke& s = by_contact[k];
    if (s.at.empty() || s.t_us.front() < from_us || s.t_us.front() > to_us) continue;
    s.up_us = c.up_us[k];
    out.push_back(std::move(s));
  }
  return out;
}

std::optional<Straightness> straightness(const std::vector<Stroke>& all) {
  double ss = 0, dof = 0, second = 0, seconds = 0;
  int n = 0;
  for (const Stroke& s : all) {
    const double chord = s.chord_mm();
    if (chord < 25 || s.at.size() < 12) continue;
    if (off_axis_deg(s.at.back().x - s.at.front().x, s.at.back().y - s.at.front().y) < 12) continue;
    std::vector<kernel::Point> p;
    for (const At& a : s.at) p.push_back({a.x, a.y});
    const auto line = kernel::fit_total_line(p);
    if (!line || line->rms > 0.1 * chord) continue;  // a scribble, not a stroke
    const double m = static_cast<double>(p.size());
    ss += line->rms * line->rms * (m - 2), dof += m - 2;
    n += static_cast<int>(p.size());
    for (std::size_t i = 1; i + 1 < p.size(); ++i) {
      const double e = line->distance(p[i - 1]) - 2 * line->distance(p[i]) + line->distance(p[i + 1]);
      second += e * e, seconds += 1;
    }
  }
  if (n == 0) return std::nullopt;
  Straightness s;
  s.n = n;
  s.rms_mm = std::sqrt(ss / dof);
  s.u_rms_mm = s.rms_mm / std::sqrt(2 * dof);
  s.jitter_mm = std::sqrt(second / seconds / 6);  // white noise of sd s has second differences of sd s sqrt 6
  s.u_jitter_mm = s.jitter_mm / std::sqrt(seconds);  // var of that estimate is near (35/9) s^4 / n
  return s;
}

std::optional<Rate> report_rate(const std::vector<Stroke>& all) {
  std::vector<double> dt_us;
  for (const Stroke& s : all)
    for (std::size_t i = 1; i < s.t_us.size(); ++i)
      if (s.t_us[i] > s.t_us[i - 1] && s.chord_mm() > 10)
        dt_us.push_back(static_cast<double>(s.t_us[i] - s.t_us[i - 1]));
  if (dt_us.size() < 20) return std::nullopt;
  const double m = kernel::median(dt_us);
  Rate r;
  r.hz = 1e6 / m;
  const double stamp_us = 1 / std::sqrt(12.0);  // time stamps are whole microseconds
  r.u_hz = r.hz * std::hypot(kernel::median_uncertainty(dt_us), stamp_us) / m;
  r.n = static_cast<int>(dt_us.size());
  return r;
}

int contacts_at_once(const std::vector<Stroke>& all) {
  std::vector<std::pair<std::int64_t, int>> changes;  // at one time, arrivals before departures
  for (const Stroke& s : all) {
    changes.emplace_back(s.t_us.front(), -1);
    changes.emplace_back(std::max(s.t_us.back(), s.up_us - 1), 1);
  }
  std::sort(changes.begin(), changes.end());
  int now = 0, most = 0;
  for (const auto& [t, change] : changes) now -= change, most = std::max(most, now);
  return most;
}

int lost_contacts(const std::vector<Stroke>& all, const TouchGrid::DisplayCapture& c,
                  const TouchGrid::Display& d) {
  int lost = 0;
  const auto inside = [&](At p) {
    return p.x > 4 && p.y > 4 && p.x < d.width_mm - 4 && p.y < d.height_mm - 4;
  };
  for (std::size_t i = 0; i < all.size(); ++i) {
    const auto way = direction(all[i], true);
    const At end = all[i].at.back();
    if (!way || !inside(end)) continue;
    for (std::size_t j = i + 1; j < all.size(); ++j) {
      const auto gap = all[j].t_us.front() - all[i].t_us.back();
      if (gap > 250000) break;
      const At next = all[j].at.front();
      const double mm = distance(end, next);
      const auto goes_on = direction(all[j], false);
      if (gap < 0 || mm > 30 || mm < 1e-9 || !goes_on) continue;
      const double ahead = ((next.x - end.x) * way->x + (next.y - end.y) * way->y) / mm;
      const double same = goes_on->x * way->x + goes_on->y * way->y;
      if (ahead < std::cos(20 * kDegree) || same < std::cos(20 * kDegree)) continue;
      if (!over_dropped(c, all[i].t_us.back(), all[j].t_us.front())) ++lost;
      break;
    }
  }
  return lost;
}

double Edges::worst() const noexcept { return std::max({left, top, right, bottom}); }

std::optional<Edges> edge_reach(const std::vector<Stroke>& all, const TouchGrid::Display& d) {
  Edges e{d.width_mm, d.height_mm, d.width_mm, d.height_mm};
  bool any = false;
  for (const Stroke& s : all) {
    if (s.chord_mm() < 10) continue;
    any = true;
    for (const At& p : s.at) {
      e.left = std::min(e.left, p.x), e.top = std::min(e.top, p.y);
      e.right = std::min(e.right, d.width_mm - p.x), e.bottom = std::min(e.bottom, d.height_mm - p.y);
    }
  }
  if (!any) return std::nullopt;
  return e;
}
}  // namespace hb::checks::touch
