#include "harness/base/text.hpp"

#include <gtest/gtest.h>

namespace hb {
namespace {

TEST(Text, NumbersAreWholeOrNothing) {
  EXPECT_EQ(to_double("-1.5e3"), -1500.0);
  EXPECT_EQ(to_int("-42"), -42);
  EXPECT_EQ(to_int("ff", 16), 255);
  for (const char* bad : {"", " 1", "1 ", "1,5", "nan", "inf", "1e999", "0x10", "--1"}) {
    EXPECT_FALSE(to_double(bad)) << bad;
    EXPECT_FALSE(to_int(bad)) << bad;
  }
  EXPECT_FALSE(to_int("9223372036854775808"));
}

TEST(Text, LinesLoseTheirEnds) {
  EXPECT_EQ(lines("a\r\nb\n"), (std::vector<std::string_view>{"a", "b"}));
  EXPECT_EQ(lines("a\n\nb"), (std::vector<std::string_view>{"a", "", "b"}));
  EXPECT_TRUE(lines("").empty());
  EXPECT_EQ(split("a..b", '.'), (std::vector<std::string_view>{"a", "", "b"}));
}

TEST(Text, Utf8AsInRfc3629) {
  for (const char* good : {"", "a", "\xc2\x80", "\xed\x9f\xbf", "\xee\x80\x80", "\xf4\x8f\xbf\xbf"})
    EXPECT_TRUE(valid_utf8(good));
  for (const char* bad : {"\x80", "\xc0\xaf", "\xc1\xbf", "\xe0\x9f\xbf", "\xed\xa0\x80", "\xf0\x8f\xbf\xbf",
                          "\xf4\x90\x80\x80", "\xf5\x80\x80\x80", "\xe2\x82", "\xfe"})
    EXPECT_FALSE(valid_utf8(bad));
}

TEST(Text, PrintableKeepsTheTerminalSafe) {
  EXPECT_EQ(printable("a\x1b[2Jb\xff\n"), "a?[2Jb??");
  EXPECT_EQ(printable("\xc2\x9b"
                      "31m"),
            "?31m");  // a C1 control sequence introducer
  EXPECT_EQ(printable("abcdef", 3), "abc...");
}

// Bug: a lot called "=1+2" went into the comebacks' CSV as a formula.
TEST(Text, ACsvCellIsNeverAFormula) {
  EXPECT_EQ(csv_cell("LOT-24K7"), "LOT-24K7");
  EXPECT_EQ(csv_cell("a,b"), "\"a,b\"");
  EXPECT_EQ(csv_cell("say \"a\""), "\"say \"\"a\"\"\"");
  for (const std::string text : {"=1+2", "+1", "-7", "@a", "\ta", "\ra", " =1", "\uff1d1"})
    EXPECT_EQ(csv_cell(text), "\"'" + text + "\"");
}

TEST(Text, NearestFindsTyposOnly) {
  const std::vector<std::string> known{"hinge_sweep", "touch_grid", "batteries"};
  EXPECT_EQ(nearest("hinge_sweap", known), "hinge_sweep");
  EXPECT_EQ(nearest("battery", known), std::nullopt);
  EXPECT_EQ(nearest("zzz", known), std::nullopt);
}

}  // namespace
}  // namespace hb
