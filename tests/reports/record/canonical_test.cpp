// Canonical JSON against RFC 8785: the samples of 3.2.2 to 3.2.4 and the number table of appendix B.
#include <gtest/gtest.h>

#include <bit>
#include <limits>

#include "reports/record/record.hpp"

namespace hb::record {
namespace {
using nlohmann::json;

std::string canonical_of(std::string_view text) {
  const auto j = parse_strict(text);
  if (!j) return "refused: " + j.error().message();
  const auto c = canonical(*j);
  return c ? *c : "refused: " + c.error().message();
}

TEST(Canonical, SampleOfSection322AndItsOctets) {
  const std::string in =
      R"({"numbers":[333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],)"
      R"("string":"\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/","literals":[null, true, false]})";
  const auto out = canonical_of(in);
  EXPECT_EQ(out, R"({"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],)"
                 "\"string\":\"\xe2\x82\xac$\\u000f\\nA'B\\\"\\\\\\\\\\\"/\"}");
  // RFC 8785 3.2.4: the octets; their SHA-256 recomputed with Python's hashlib.
  EXPECT_EQ(out.size(), 118U);
  EXPECT_EQ(hex(sha256(as_bytes(out))), "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb");
}

TEST(Canonical, NamesAreSortedByUtf16UnitsAsInSection323) {
  const auto out = canonical_of(
      R"({"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh",)"
      R"("1":"One","\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control",)"
      R"("\u00f6":"Latin Small Letter O With Diaeresis"})");
  std::size_t before = 0;
  for (const char* value : {"Carriage Return", "One", "Control", "Latin Small Letter O With Diaeresis",
                            "Euro Sign", "Emoji: Grinning Face", "Hebrew Letter Dalet With Dagesh"}) {
    const auto at = out.find(value);
    ASSERT_NE(at, std::string::npos) << out;
    EXPECT_GT(at, before) << value;
    before = at;
  }
}

TEST(Canonical, NumbersOfAppendixB) {
  const struct {
    std::uint64_t bits;
    const char* text;
  } rows[] = {{0x0000000000000000, "0"},
              {0x8000000000000000, "0"},
              {0x0000000000000001, "5e-324"},
              {0x7fefffffffffffff, "1.7976931348623157e+308"},
              {0x4340000000000000, "9007199254740992"},
              {0x44b52d02c7e14af5, "9.999999999999997e+22"},
              {0x44b52d02c7e14af6, "1e+23"},
              {0x44b52d02c7e14af7, "1.0000000000000001e+23"},
              {0x444b1ae4d6e2ef4e, "999999999999999700000"},
              {0x444b1ae4d6e2ef4f, "999999999999999900000"},
              {0x444b1ae4d6e2ef50, "1e+21"},
              {0x3eb0c6f7a0b5ed8c, "9.999999999999997e-7"},
              {0x3eb0c6f7a0b5ed8d, "0.000001"},
              {0x41b3de4355555553, "333333333.3333332"},
              {0x41b3de4355555554, "333333333.33333325"},
              {0x41b3de4355555555, "333333333.3333333"},
              {0x41b3de4355555556, "333333333.3333334"},
              {0x41b3de4355555557, "333333333.33333343"},
              {0xbecbf647612f3696, "-0.0000033333333333333333"},
              {0x43143ff3c1cb0959, "1424953923781206.2"}};
  for (const auto& r : rows) EXPECT_EQ(es_number(std::bit_cast<double>(r.bits)), r.text);
}

TEST(Canonical, WholeNumbersAreWrittenAsDoublesOrRefused) {
  EXPECT_EQ(canonical_of("[-1,-0,9007199254740992,1152921504606846976]"),
            "[-1,0,9007199254740992,1152921504606847000]");
  EXPECT_FALSE(canonical(json(9007199254740993)));  // no double holds it
  EXPECT_FALSE(canonical(json(std::numeric_limits<std::uint64_t>::max())));
  EXPECT_FALSE(canonical(json(std::numeric_limits<std::int64_t>::max())));
  EXPECT_EQ(*canonical(json(std::numeric_limits<std::int64_t>::min())), "-9223372036854776000");
}

TEST(Canonical, ValuesWithoutAJsonFormAreRefused) {
  EXPECT_FALSE(canonical(json(std::numeric_limits<double>::quiet_NaN())));
  EXPECT_FALSE(canonical(json(std::numeric_limits<double>::infinity())));
  EXPECT_FALSE(canonical(json("\xed\xa0\x80")));  // a lone surrogate in UTF-8's clothes
  EXPECT_FALSE(canonical(json({{"\xff", 1}})));   // as a name
  EXPECT_FALSE(canonical(json::binary({1, 2})));
}

TEST(StrictParse, RefusesWhatALenientReaderLetsThrough) {
  const std::string deep_ok = std::string(64, '[') + std::string(64, ']');
  const std::string too_deep = std::string(65, '[') + std::string(65, ']');
  EXPECT_TRUE(parse_strict(deep_ok));
  const std::string_view refused[] = {"",
                                      "{\"a\":1,\"a\":2}",
                                      "{\"a\":{\"b\":1,\"\\u0062\":2}}",  // the same name, escaped
                                      "{} {}",
                                      "[1,]",
                                      "[01]",
                                      "NaN",
                                      "1e999",
                                      "3333333333333333332",  // found by fuzzing: no double holds it
                                      "-9007199254740993",    // 2^53 + 1, RFC 7493
                                      "\"\\ud800\"",
                                      "\"\xff\"",
                                      "\xef\xbb\xbf{}",
                                      std::string_view("{}\0{", 4),
                                      std::string_view("\0", 1),
                                      "\"tab\there\"",
                                      too_deep};
  for (const auto text : refused) EXPECT_FALSE(parse_strict(text)) << text;
}

TEST(StrictParse, TheErrorDoesNotRepeatTheText) {
  const auto r = parse_strict("{\"owner\": Mallory}");
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().message().find("Mallory"), std::string::npos);
}

// Found by fuzzing: RFC 8785 writes a large double with the digits of an integer that no double holds.
TEST(Canonical, AWrittenLargeDoubleIsReadBack) {
  const auto read = parse_strict("11111911111111111111.1");
  ASSERT_TRUE(read);
  const auto text = canonical(*read);
  ASSERT_TRUE(text);
  EXPECT_EQ(*text, "11111911111111110000");
  const auto again = parse_strict(*text);
  ASSERT_TRUE(again);
  EXPECT_EQ(canonical(*again).value(), *text);
}
}  // namespace
}  // namespace hb::record
