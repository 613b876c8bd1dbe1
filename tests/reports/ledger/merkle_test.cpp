// RFC 6962 section 2.1 with the leaves of the Certificate Transparency reference code; roots and paths as
// published there and recomputed with Python's hashlib.
#include "reports/ledger/merkle.hpp"

#include <gtest/gtest.h>

#include <map>

namespace hb::ledger {
namespace {

std::vector<Digest> leaves() {
  std::vector<Digest> out;
  for (const char* h :
       {"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"})
    out.push_back(leaf_hash(from_hex(h).value()));
  return out;
}
Digest digest(std::string_view h) {
  const auto b = from_hex(h).value();
  Digest d{};
  std::copy(b.begin(), b.end(), d.begin());
  return d;
}
std::vector<std::string> hexes(const std::vector<Digest>& v) {
  std::vector<std::string> out;
  for (const auto& d : v) out.push_back(hex(d));
  return out;
}

TEST(Merkle, PublishedRoots) {
  const char* roots[] = {"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
                         "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
                         "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
                         "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
                         "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
                         "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
                         "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
                         "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
                         "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"};
  const auto all = leaves();
  Frontier f;
  for (std::size_t n = 0; n <= all.size(); ++n) {
    EXPECT_EQ(hex(root(std::span(all).first(n))), roots[n]);
    EXPECT_EQ(hex(f.root()), roots[n]) << "appended one by one";
    const auto kept = Frontier::from(f.size(), f.bytes());
    ASSERT_TRUE(kept);
    EXPECT_EQ(hex(kept->root()), roots[n]);
    if (n < all.size()) f.push(all[n]);
  }
  EXPECT_FALSE(Frontier::from(3, std::string(32, 'x')));
}

TEST(Merkle, PublishedAuditPaths) {
  const struct {
    std::size_t leaf, n;
    std::vector<std::string> path;
  } rows[] = {{0,
               8,
               {"96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
                "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
                "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"}},
              {5,
               8,
               {"bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
                "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
                "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"}},
              {2, 3, {"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"}},
              {1,
               5,
               {"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
                "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
                "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"}}};
  const auto all = leaves();
  for (const auto& r : rows) EXPECT_EQ(hexes(inclusion_proof(std::span(all).first(r.n), r.leaf)), r.path);
}

// The pairs of the reference code's own test.
TEST(Merkle, PublishedConsistencyProofs) {
  const struct {
    std::size_t old_size, size;
    std::vector<std::string> path;
  } rows[] = {{1, 1, {}},
              {1,
               8,
               {"96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
                "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
                "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4"}},
              {6,
               8,
               {"0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
                "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
                "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7"}},
              {2,
               5,
               {"5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
                "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b"}}};
  const auto all = leaves();
  for (const auto& r : rows)
    EXPECT_EQ(hexes(consistency_proof(std::span(all).first(r.size), r.old_size)), r.path)
        << r.old_size << " to " << r.size;
}

TEST(Merkle, EveryProofHoldsAndNoneHoldsForAnythingElse) {
  const auto all = leaves();
  const auto wrong = digest(std::string(64, '5'));
  for (std::size_t n = 1; n <= all.size(); ++n) {
    const auto tree = std::span(all).first(n);
    const auto r = root(tree);
    for (std::size_t i = 0; i < n; ++i) {
      auto proof = inclusion_proof(tree, i);
      EXPECT_TRUE(verify_inclusion(all[i], i, n, proof, r));
      EXPECT_FALSE(verify_inclusion(wrong, i, n, proof, r));
      EXPECT_FALSE(verify_inclusion(all[i], i, n, proof, wrong));
      if (n > 1) {
        EXPECT_FALSE(verify_inclusion(all[i], (i + 1) % n, n, proof, r));
      }
      proof.push_back(wrong);
      EXPECT_FALSE(verify_inclusion(all[i], i, n, proof, r));
    }
    EXPECT_FALSE(verify_inclusion(all[0], n, n, {}, r));
    for (std::size_t m = 0; m <= n; ++m) {
      auto proof = consistency_proof(tree, m);
      const auto old = root(tree.first(m));
      EXPECT_TRUE(verify_consistency(m, n, old, r, proof)) << m << " to " << n;
      EXPECT_FALSE(verify_consistency(m, n, wrong, r, proof)) << m << " to " << n;
      if (m > 0) {
        EXPECT_FALSE(verify_consistency(m, n, old, wrong, proof)) << m << " to " << n;
      }
      proof.push_back(wrong);
      EXPECT_FALSE(verify_consistency(m, n, old, r, proof)) << m << " to " << n;
    }
  }
  EXPECT_THROW(static_cast<void>(inclusion_proof(all, 8)), std::out_of_range);
  EXPECT_THROW(static_cast<void>(consistency_proof(all, 9)), std::out_of_range);
}

TEST(Merkle, KeptNodesGiveTheSameProofs) {
  std::vector<Digest> all;
  std::map<std::pair<unsigned, std::uint64_t>, Digest> kept;
  Frontier f;
  for (std::uint8_t n = 1; n <= 70; ++n) {
    all.push_back(leaf_hash(Bytes{n}));
    kept[{0, n - 1U}] = all.back();
    std::vector<Digest> completed;
    f.push(all.back(), &completed);
    for (std::size_t i = 0; i < completed.size(); ++i)
      kept[{static_cast<unsigned>(i + 1), (f.size() >> (i + 1)) - 1}] = completed[i];
    std::size_t looked_up = 0;
    const NodeAt node = [&](unsigned level, std::uint64_t place) -> Result<Digest> {
      ++looked_up;
      const auto it = kept.find({level, place});
      if (it == kept.end()) return Error{ErrorCode::altered, "missing", "", ""};
      return it->second;
    };
    for (std::uint64_t i = 0; i < n; ++i) {
      looked_up = 0;
      const auto p = inclusion_proof(node, n, i);
      ASSERT_TRUE(p) << int{n} << " " << i;
      EXPECT_EQ(*p, inclusion_proof(all, i));
      EXPECT_LE(looked_up, 14U);
      const auto c = consistency_proof(node, n, i);
      ASSERT_TRUE(c) << int{n} << " " << i;
      EXPECT_EQ(*c, consistency_proof(all, i));
    }
    EXPECT_FALSE(inclusion_proof(node, n, n));
    EXPECT_FALSE(consistency_proof(node, n, n + 1U));
  }
  const NodeAt none = [](unsigned, std::uint64_t) -> Result<Digest> {
    return Error{ErrorCode::altered, "missing", "", ""};
  };
  EXPECT_EQ(inclusion_proof(none, 5, 2).error().code, ErrorCode::altered);
}

}  // namespace
}  // namespace hb::ledger
