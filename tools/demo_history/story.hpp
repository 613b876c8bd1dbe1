// What happened to each made-up phone: drawn first, written down afterwards.
#pragma once

#include <array>
#include <cstdint>
#include <random>
#include <vector>

#include "checks/measurement.hpp"
#include "reports/record/record.hpp"

namespace hb::demo {

/// Own transforms: the standard distributions may differ between libraries, and the past must not.
class Draw {
 public:
  explicit Draw(std::uint64_t seed) : engine_(seed) {}
  double uniform();  ///< [0, 1)
  double normal(double mean, double sd);
  /// Weibull by its characteristic life and shape.
  double weibull(double life, double shape);
  std::size_t pick(std::initializer_list<double> weights);
  char letter();  ///< Crockford base 32

 private:
  std::mt19937_64 engine_;
};

enum class Trouble { none, hinge, touch, battery, charging };

struct Story {
  record::Job job;
  ShopText model;
  bool folds = true;
  std::string tag, tail;
  double life_days = 0;  ///< until it comes back, if it is watched so long
  Trouble trouble = Trouble::none;
  std::int64_t opened_s = 0, released_s = 0;
};

[[nodiscard]] Story make_story(Draw& draw, std::int64_t opened_s);
/// The checks of one run. At release a trouble to come shows as a measure nearer to its limit; on return it
/// fails.
[[nodiscard]] std::vector<checks::CheckResult> make_checks(Draw& draw, const Story& story, bool on_return);
}  // namespace hb::demo
