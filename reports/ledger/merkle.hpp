/// Merkle trees over a growing list: RFC 6962 section 2.1 (hashes and proofs) and RFC 9162 sections 2.1.3.2
/// and 2.1.4.2 (how to check a proof; from memory). Indices count from 0.
/// Threads: pure functions and a value type.
#pragma once

#include <cstdint>
#include <functional>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/encoding.hpp"
#include "harness/base/result.hpp"

namespace hb::ledger {

/// SHA-256(0x00 || bytes).
[[nodiscard]] Digest leaf_hash(ByteView bytes);
/// SHA-256(0x01 || left || right).
[[nodiscard]] Digest node_hash(const Digest& left, const Digest& right);
/// MTH of the leaf hashes; SHA-256 of nothing for an empty list.
[[nodiscard]] Digest root(std::span<const Digest> leaves);

/// Audit path, leaf to root. Precondition: index < leaves.size() (else std::out_of_range).
[[nodiscard]] std::vector<Digest> inclusion_proof(std::span<const Digest> leaves, std::size_t index);
[[nodiscard]] bool verify_inclusion(const Digest& leaf, std::size_t index, std::size_t size,
                                    std::span<const Digest> proof, const Digest& root);

/// Proof that the tree of the first `old_size` leaves is a beginning of this one; empty for 0 and for all.
/// Precondition: old_size <= leaves.size() (else std::out_of_range).
[[nodiscard]] std::vector<Digest> consistency_proof(std::span<const Digest> leaves, std::size_t old_size);
[[nodiscard]] bool verify_consistency(std::size_t old_size, std::size_t new_size, const Digest& old_root,
                                      const Digest& new_root, std::span<const Digest> proof);

/// The root of the 2^level leaves from place * 2^level on, all of which are there; level 0 is a leaf's hash.
using NodeAt = std::function<Result<Digest>(unsigned level, std::uint64_t place)>;
/// The same proofs from kept nodes, O(log size) of them. Errors: those of `node`; invalid_argument for an
/// index or old size that the tree does not have.
[[nodiscard]] Result<std::vector<Digest>> inclusion_proof(const NodeAt& node, std::uint64_t size,
                                                          std::uint64_t index);
[[nodiscard]] Result<std::vector<Digest>> consistency_proof(const NodeAt& node, std::uint64_t size,
                                                            std::uint64_t old_size);

/// The roots of the full subtrees that a list is made of, largest first: enough to append and to know the
/// root in O(log n).
class Frontier {
 public:
  /// `completed` gets the roots of the subtrees that this leaf fills, from level 1 up: the k-th is that of
  /// level k and place size() / 2^k - 1.
  void push(const Digest& leaf, std::vector<Digest>* completed = nullptr);
  [[nodiscard]] Digest root() const;
  [[nodiscard]] std::uint64_t size() const noexcept { return size_; }
  [[nodiscard]] std::string bytes() const;  ///< 32 octets a peak
  /// Empty result: `bytes` is not a frontier of `size` leaves.
  [[nodiscard]] static std::optional<Frontier> from(std::uint64_t size, std::string_view bytes);

 private:
  std::uint64_t size_ = 0;
  std::vector<Digest> peaks_;
};
}  // namespace hb::ledger
