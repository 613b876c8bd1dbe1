#include "reports/ledger/merkle.hpp"

#include <algorithm>
#include <bit>
#include <stdexcept>

namespace hb::ledger {
namespace {
/// The largest power of two smaller than n. Precondition: n > 1.
std::size_t split_point(std::size_t n) { return std::bit_floor(n - 1); }

void append(std::vector<Digest>& to, std::vector<Digest> more) {
  to.insert(to.end(), more.begin(), more.end());
}

/// SUBPROOF(m, D[n], b) of RFC 6962 2.1.2.
std::vector<Digest> subproof(std::span<const Digest> d, std::size_t m, bool complete) {
  if (m == d.size()) return complete ? std::vector<Digest>{} : std::vector<Digest>{root(d)};
  const std::size_t k = split_point(d.size());
  std::vector<Digest> p;
  if (m <= k) {
    append(p, subproof(d.first(k), m, complete));
    p.push_back(root(d.subspan(k)));
  } else {
    append(p, subproof(d.subspan(k), m - k, false));
    p.push_back(root(d.first(k)));
  }
  return p;
}
}  // namespace

namespace {
/// Collects a path from kept nodes. Leaves `begin` to `begin + n - 1`; only a tree's right edge has to be
/// split, and `begin` is a multiple of the power of two above n.
class Climber {
 public:
  explicit Climber(const NodeAt& node) : node_(node) {}

  Result<Digest> root(std::uint64_t begin, std::uint64_t n) const {
    if (std::has_single_bit(n)) {
      const auto level = static_cast<unsigned>(std::countr_zero(n));
      return node_(level, begin >> level);
    }
    const auto k = std::bit_floor(n - 1);
    const auto left = root(begin, k);
    if (!left) return left;
    const auto right = root(begin + k, n - k);
    if (!right) return right;
    return node_hash(*left, *right);
  }

  /// PATH(m, D[n]) of RFC 6962 2.1.1.
  Result<void> path(std::uint64_t m, std::uint64_t begin, std::uint64_t n) {
    if (n == 1) return {};
    const auto k = std::bit_floor(n - 1);
    const bool left = m < k;
    if (auto r = left ? path(m, begin, k) : path(m - k, begin + k, n - k); !r) return r;
    return left ? add(begin + k, n - k) : add(begin, k);
  }

  /// SUBPROOF(m, D[n], b) of RFC 6962 2.1.2.
  Result<void> subproof(std::uint64_t m, std::uint64_t begin, std::uint64_t n, bool complete) {
    if (m == n) return complete ? Result<void>() : add(begin, n);
    const auto k = std::bit_floor(n - 1);
    const bool left = m <= k;
    if (auto r = left ? subproof(m, begin, k, complete) : subproof(m - k, begin + k, n - k, false); !r)
      return r;
    return left ? add(begin + k, n - k) : add(begin, k);
  }

  std::vector<Digest> out;

 private:
  Result<void> add(std::uint64_t begin, std::uint64_t n) {
    auto r = root(begin, n);
    if (!r) return std::move(r).error();
    out.push_back(*r);
    return {};
  }
  const NodeAt& node_;
};

Error no_such_leaf() { return {ErrorCode::invalid_argument, "the tree has no such leaf", "", ""}; }
}  // namespace

Result<std::vector<Digest>> inclusion_proof(const NodeAt& node, std::uint64_t size, std::uint64_t index) {
  if (index >= size) return no_such_leaf();
  Climber c(node);
  if (auto r = c.path(index, 0, size); !r) return std::move(r).error();
  return std::move(c.out);
}

Result<std::vector<Digest>> consistency_proof(const NodeAt& node, std::uint64_t size,
                                              std::uint64_t old_size) {
  if (old_size > size) return no_such_leaf();
  Climber c(node);
  if (old_size == 0 || old_size == size) return std::move(c.out);
  if (auto r = c.subproof(old_size, 0, size, true); !r) return std::move(r).error();
  return std::move(c.out);
}

Digest leaf_hash(ByteView bytes) {
  Bytes b;
  b.reserve(bytes.size() + 1);
  b.push_back(0);
  b.insert(b.end(), bytes.begin(), bytes.end());
  return sha256(b);
}

Digest node_hash(const Digest& left, const Digest& right) {
  std::array<std::uint8_t, 65> b{1};
  std::copy(left.begin(), left.end(), b.begin() + 1);
  std::copy(right.begin(), right.end(), b.begin() + 33);
  return sha256(b);
}

Digest root(std::span<const Digest> leaves) {
  if (leaves.empty()) return sha256({});
  if (leaves.size() == 1) return leaves.front();
  const std::size_t k = split_point(leaves.size());
  return node_hash(root(leaves.first(k)), root(leaves.subspan(k)));
}

std::vector<Digest> inclusion_proof(std::span<const Digest> leaves, std::size_t index) {
  if (index >= leaves.size()) throw std::out_of_range("inclusion_proof: no such leaf");
  if (leaves.size() == 1) return {};
  const std::size_t k = split_point(leaves.size());
  std::vector<Digest> p;
  if (index < k) {
    p = inclusion_proof(leaves.first(k), index);
    p.push_back(root(leaves.subspan(k)));
  } else {
    p = inclusion_proof(leaves.subspan(k), index - k);
    p.push_back(root(leaves.first(k)));
  }
  return p;
}

bool verify_inclusion(const Digest& leaf, std::size_t index, std::size_t size, std::span<const Digest> proof,
                      const Digest& expected) {
  if (index >= size) return false;
  std::size_t fn = index, sn = size - 1;
  Digest r = leaf;
  for (const Digest& p : proof) {
    if (sn == 0) return false;
    if ((fn & 1) != 0 || fn == sn) {
      r = node_hash(p, r);
      while ((fn & 1) == 0 && fn != 0) fn >>= 1, sn >>= 1;
    } else {
      r = node_hash(r, p);
    }
    fn >>= 1, sn >>= 1;
  }
  return sn == 0 && r == expected;
}

std::vector<Digest> consistency_proof(std::span<const Digest> leaves, std::size_t old_size) {
  if (old_size > leaves.size()) throw std::out_of_range("consistency_proof: the old tree is the larger one");
  if (old_size == 0 || old_size == leaves.size()) return {};
  return subproof(leaves, old_size, true);
}

bool verify_consistency(std::size_t old_size, std::size_t new_size, const Digest& old_root,
                        const Digest& new_root, std::span<const Digest> proof) {
  if (old_size > new_size) return false;
  if (old_size == new_size) return proof.empty() && old_root == new_root;
  if (old_size == 0) return proof.empty() && old_root == sha256({});
  std::vector<Digest> path;
  if (std::has_single_bit(old_size)) path.push_back(old_root);
  path.insert(path.end(), proof.begin(), proof.end());
  if (path.empty()) return false;
  std::size_t fn = old_size - 1, sn = new_size - 1;
  while ((fn & 1) != 0) fn >>= 1, sn >>= 1;
  Digest fr = path.front(), sr = path.front();
  for (std::size_t i = 1; i < path.size(); ++i) {
    const Digest& c = path[i];
    if (sn == 0) return false;
    if ((fn & 1) != 0 || fn == sn) {
      fr = node_hash(c, fr);
      sr = node_hash(c, sr);
      while ((fn & 1) == 0 && fn != 0) fn >>= 1, sn >>= 1;
    } else {
      sr = node_hash(sr, c);
    }
    fn >>= 1, sn >>= 1;
  }
  return sn == 0 && fr == old_root && sr == new_root;
}

void Frontier::push(const Digest& leaf, std::vector<Digest>* completed) {
  Digest carry = leaf;
  for (std::uint64_t s = size_; (s & 1) != 0; s >>= 1) {
    carry = node_hash(peaks_.back(), carry);
    peaks_.pop_back();
    if (completed != nullptr) completed->push_back(carry);
  }
  peaks_.push_back(carry);
  ++size_;
}

Digest Frontier::root() const {
  if (peaks_.empty()) return sha256({});
  Digest r = peaks_.back();
  for (auto it = peaks_.rbegin() + 1; it != peaks_.rend(); ++it) r = node_hash(*it, r);
  return r;
}

std::string Frontier::bytes() const {
  std::string out;
  for (const Digest& p : peaks_) out += as_text(p);
  return out;
}

std::optional<Frontier> Frontier::from(std::uint64_t size, std::string_view bytes) {
  if (bytes.size() != static_cast<std::size_t>(std::popcount(size)) * Digest{}.size()) return std::nullopt;
  Frontier f;
  f.size_ = size;
  for (std::size_t at = 0; at < bytes.size(); at += Digest{}.size()) {
    Digest d{};
    const auto part = as_bytes(bytes.substr(at, d.size()));
    std::copy(part.begin(), part.end(), d.begin());
    f.peaks_.push_back(d);
  }
  return f;
}
}  // namespace hb::ledger
