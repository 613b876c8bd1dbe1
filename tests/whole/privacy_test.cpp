// Marked personal strings are planted in everything that the stand-in can say; none may be found in any byte
// that the programs wrote or printed.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>

#include "harness/base/encoding.hpp"
#include "whole.hpp"

namespace hb::test {
namespace {

struct Canary {
  std::string name, text;
};

std::vector<Canary> canaries() {
  std::vector<Canary> out;
  const auto r = run({standin(), "--print-canaries", "--json"}, 20);
  const auto j = r.json();
  if (j.is_array())
    for (const auto& c : j) out.push_back({c.value("name", ""), c.value("text", "")});
  return out;
}

std::string lower(std::string s) {
  std::transform(s.begin(), s.end(), s.begin(),
                 [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
  return s;
}

/// The forms in which a text could leak.
std::vector<std::string> forms(const std::string& t) {
  std::string utf16, url;
  for (const char c : t) {
    utf16 += c;
    utf16 += '\0';
    url += std::isalnum(static_cast<unsigned char>(c))
               ? std::string(1, c)
               : fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  std::vector<std::string> out{
      t, utf16, url, hex(as_bytes(t)), hex(sha256(as_bytes(t))), base64url(sha256(as_bytes(t)))};
  // Base64 of the text at each alignment, without the ends that depend on neighbours.
  for (std::size_t skip = 0; skip < 3 && t.size() > skip + 6; ++skip) {
    const auto n = (t.size() - skip) / 3 * 3;
    out.push_back(base64(as_bytes(std::string_view(t).substr(skip, n))));
    out.push_back(base64url(as_bytes(std::string_view(t).substr(skip, n))));
  }
  for (auto& f : out) f = lower(f);
  return out;
}

std::vector<std::string> found_in(const std::string& where, std::string bytes,
                                  const std::vector<Canary>& all) {
  std::vector<std::string> hits;
  bytes = lower(std::move(bytes));
  for (const auto& c : all)
    for (const auto& f : forms(c.text))
      if (bytes.find(f) != std::string::npos) hits.push_back(c.name + " in " + where);
  return hits;
}

/// What is inside a compact JWS or a compressed PDF is looked at too.
std::string opened_up(const std::filesystem::path& file, const std::string& bytes) {
  std::string more = bytes;
  for (std::size_t at = 0, end = 0; at < bytes.size(); at = end + 1) {
    end = std::min(bytes.find('.', at), bytes.size());
    if (end - at > 40)
      if (auto b = from_base64url(std::string_view(bytes).substr(at, end - at)); b) more += as_text(*b);
  }
  if (file.extension() == ".pdf" && have("qpdf") && have("pdftotext")) {
    more += run({"qpdf", "--qdf", "--object-streams=disable", file.string(), "-"}, 60).out;
    more += run({"pdftotext", file.string(), "-"}, 60).out;
  }
  return more;
}

TEST(Privacy, TheFinderFindsAPlantedCanaryInEveryForm) {
  const std::vector<Canary> one{{"planted", "Ann Canary <ann@example.org>"}};
  for (const auto& f : forms(one[0].text))
    EXPECT_FALSE(found_in("x", "before " + f + " after", one).empty()) << f;
  EXPECT_TRUE(found_in("x", "nothing here", one).empty());
}

TEST(Privacy, TheStandInSaysEveryCanaryToAClientThatAsks) { EXPECT_GE(canaries().size(), 10u); }

class NoCanary : public testing::TestWithParam<std::vector<std::string>> {};

TEST_P(NoCanary, IsInAnyByteThatWasWrittenOrPrinted) {
  const auto all = canaries();
  ASSERT_GE(all.size(), 10u);
  TempFolder t;
  const auto r = demo(t / "out", GetParam(), false);
  ASSERT_TRUE(r.code == 0 || r.code == 1 || r.code == 3) << r.err;
  std::vector<std::string> hits = found_in("stdout", r.out, all);
  for (auto& h : found_in("stderr", r.err, all)) hits.push_back(h);
  std::size_t files = 0;
  for (const auto& [file, bytes] : all_files(t.path())) {
    ++files;
    for (auto& h : found_in(file.string(), opened_up(file, bytes), all)) hits.push_back(h);
  }
  EXPECT_GE(files, 8u);
  EXPECT_TRUE(hits.empty()) << fmt::format("{}", fmt::join(hits, "\n"));
}
INSTANTIATE_TEST_SUITE_P(Runs, NoCanary,
                         testing::Values(std::vector<std::string>{},
                                         std::vector<std::string>{"--model", "plank"},
                                         std::vector<std::string>{"--fault", "second-pack-unplugged",
                                                                  "--fault", "camera-flex-unseated"},
                                         std::vector<std::string>{"--pull-after", "120"}));
}  // namespace
}  // namespace hb::test
