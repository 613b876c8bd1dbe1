#include "checks/kernel/isotonic.hpp"

#include <cmath>
#include <stdexcept>

namespace hb::kernel {
namespace {
struct Block {
  double mean, weight;
  std::size_t count;
};
}  // namespace

std::vector<double> isotonic(std::span<const double> y, std::span<const double> weights) {
  if (!weights.empty() && weights.size() != y.size())
    throw std::invalid_argument("isotonic: as many weights as values");
  std::vector<Block> blocks;
  for (std::size_t i = 0; i < y.size(); ++i) {
    const double w = weights.empty() ? 1.0 : weights[i];
    if (!(w > 0)) throw std::invalid_argument("isotonic: weights are positive");
    blocks.push_back({y[i], w, 1});
    while (blocks.size() > 1 && blocks[blocks.size() - 2].mean > blocks.back().mean) {
      const Block last = blocks.back();
      blocks.pop_back();
      Block& into = blocks.back();
      into.mean = (into.mean * into.weight + last.mean * last.weight) / (into.weight + last.weight);
      into.weight += last.weight;
      into.count += last.count;
    }
  }
  std::vector<double> fit;
  fit.reserve(y.size());
  for (const Block& b : blocks) fit.insert(fit.end(), b.count, b.mean);
  return fit;
}

double monotone_residual_rms(std::span<const double> y) {
  if (y.empty()) return 0;
  const auto fit = isotonic(y);
  double ss = 0;
  for (std::size_t i = 0; i < y.size(); ++i) ss += (y[i] - fit[i]) * (y[i] - fit[i]);
  return std::sqrt(ss / static_cast<double>(y.size()));
}
}  // namespace hb::kernel
