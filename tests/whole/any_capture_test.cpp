// A journal's captures are numbers on a disk: whatever they say, judging them ends in a result or in words.
#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <random>

#include "bench_day.hpp"
#include "checks/registry.hpp"
#include "harness/run/run.hpp"

namespace hb::test {
namespace {
namespace fs = std::filesystem;
using nlohmann::json;

/// All values within, in order.
void values_of(json& j, std::vector<json*>& into) {
  into.push_back(&j);
  if (j.is_structured())
    for (auto& v : j) values_of(v, into);
}

void spoil(json& capture, std::mt19937& random) {
  std::vector<json*> all;
  values_of(capture, all);
  json& v = *all[random() % all.size()];
  static const json others[] = {json(),      json(true),       json(-1),          json(0),
                                json(1),     json(2147483647), json(-2147483648), json(4294967296),
                                json(1e300), json(-1e300),     json(1e-300),      json(0.5),
                                json("x"),   json::array(),    json::object(),    json::array({1, 2, 3})};
  const auto what = random() % 20;
  if (what < 16)
    v = others[what];
  else if (v.is_array() && !v.empty() && what < 18)
    v.erase(v.begin() + static_cast<std::ptrdiff_t>(random() % v.size()), v.end());
  else if (v.is_array() && !v.empty())
    v.insert(v.end(), v.front());
  else if (v.is_object() && !v.empty())
    v.erase(v.begin());
}

class AnyCapture : public testing::TestWithParam<const char*> {};

TEST_P(AnyCapture, IsJudgedOrRefusedInWords) {
  TempFolder t;
  const auto made = demo(t / "out", {"--model", GetParam(), "--seed", "5"});
  ASSERT_EQ(made.code, 0) << made.err;
  std::string journal;
  for (const auto& e : fs::directory_iterator(t / "out/runs"))
    if (e.path().extension() == ".jsonl") journal = slurp(e.path());
  const auto known = checks::all_checks();
  auto model = profiles::load(std::string(HB_SOURCE_DIR) + "/profiles/models/" + GetParam() + ".toml", known);
  ASSERT_TRUE(model.profile);
  const auto header_end = journal.find('\n') + 1;
  const std::string header = journal.substr(0, header_end);
  int judged = 0, refused = 0;
  std::mt19937 random(7);
  for (auto from = header_end; from < journal.size();) {
    const auto to = journal.find('\n', from);
    const auto entry = json::parse(journal.substr(from, to - from));
    from = to + 1;
    for (int n = 0; n < 30; ++n) {
      auto spoiled = entry;
      if (!spoiled.contains("capture")) continue;
      spoil(spoiled["capture"], random);
      const auto file = t.path() / "spoiled.jsonl";
      std::ofstream(file, std::ios::trunc) << header << spoiled.dump() << "\n";
      const auto r = run::replay(file, *model.profile);
      ++(r ? judged : refused);
    }
  }
  EXPECT_GT(judged, 30);
  EXPECT_GT(refused, 30);
}
INSTANTIATE_TEST_SUITE_P(Models, AnyCapture, testing::Values("petal", "plank"),
                         [](const auto& i) { return std::string(i.param); });
}  // namespace
}  // namespace hb::test
