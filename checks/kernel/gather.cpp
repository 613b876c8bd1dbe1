#include "checks/kernel/gather.hpp"

#include <algorithm>
#include <cmath>

namespace hb::kernel {
namespace {
struct Group {
  std::vector<std::size_t> members;
  std::vector<int> looks;  // sorted
  double x = 0, y = 0;
};

bool share_a_look(const Group& a, const Group& b) {
  return std::any_of(a.looks.begin(), a.looks.end(),
                     [&](int l) { return std::binary_search(b.looks.begin(), b.looks.end(), l); });
}

void join(Group& into, const Group& from) {
  const double n = static_cast<double>(into.members.size()), m = static_cast<double>(from.members.size());
  into.x = (n * into.x + m * from.x) / (n + m);
  into.y = (n * into.y + m * from.y) / (n + m);
  into.members.insert(into.members.end(), from.members.begin(), from.members.end());
  into.looks.insert(into.looks.end(), from.looks.begin(), from.looks.end());
  std::sort(into.looks.begin(), into.looks.end());
}
}  // namespace

std::vector<int> gather(std::span<const Place> places, double reach) {
  std::vector<Group> groups;
  for (std::size_t i = 0; i < places.size(); ++i)
    groups.push_back({{i}, {places[i].look}, places[i].x, places[i].y});
  for (;;) {
    std::size_t a = 0, b = 0;
    double nearest = reach;
    for (std::size_t i = 0; i < groups.size(); ++i)
      for (std::size_t k = i + 1; k < groups.size(); ++k) {
        const double d = std::hypot(groups[i].x - groups[k].x, groups[i].y - groups[k].y);
        const bool nearer = b == 0 ? d <= nearest : d < nearest;
        if (nearer && !share_a_look(groups[i], groups[k])) nearest = d, a = i, b = k;
      }
    if (b == 0) break;
    join(groups[a], groups[b]);
    groups.erase(groups.begin() + static_cast<std::ptrdiff_t>(b));
  }
  std::vector<int> thing(places.size(), -1);
  int next = 0;
  for (std::size_t i = 0; i < places.size(); ++i) {
    if (thing[i] >= 0) continue;
    for (const Group& g : groups)
      if (std::find(g.members.begin(), g.members.end(), i) != g.members.end())
        for (const std::size_t m : g.members) thing[m] = next;
    ++next;
  }
  return thing;
}

double split_probability(double reach, double sd) { return std::exp(-reach * reach / (4 * sd * sd)); }
}  // namespace hb::kernel
