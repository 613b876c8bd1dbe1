#include "harness/base/gate.hpp"

#include <gtest/gtest.h>

namespace hb {
namespace {

TEST(Gate, LetsTheShopsOwnWordsThrough) {
  for (const char* text : {
           "",
           "Screen black after a fall 2026-11-20",
           "LOT-24K7",
           "display-hinge assembly, lot 25A1-0042",
           "battery at 83 % of 3730 mAh",
           "offer 349.00 EUR, deposit 50",
           "price 1 299,00",
           "3 screws of 12 missing",
           "hinge stands at 92.5 degrees",
           "colour: mint / graphite",
           "opened on 2026-11-20 and 2026-11-25",
           "bench 2 (left), pad no. 107",
           "Klappert beim Öffnen, Spalt 0,4 mm",
           "画面が映らない",
           "ask at the counter",
           "@ the hinge",
           "2026-11-25 10:15, 30 deg",
           "0.25 0.31 0.27",
           "gap 0.12, 0.15 and 0.2 mm",
           "checked at the counter, dot pixel upper left",
           "10:15:30 to 12:00, then 14:20",
           "ask @ the hinge. Then close it",
           "gap 0.12 - 0.15 - 0.2 mm",
           "MTF 0.3125, 0.2812",
           "二つの電池",
           "Scharnier: 92,5° · Spalt 0,4 mm",
       })
    EXPECT_TRUE(personal_reason(text).empty()) << text << ": " << personal_reason(text).view();
}

TEST(Gate, RefusesWhatLooksPersonal) {
  for (const char* text : {
           "ann@example.org",
           "write to ann.b@mail.example.org please",
           "+49 170 1234567",
           "call 0170/1234567",
           "0170 123 45 67",
           "(030) 123-4567",
           "tel +1 555 0100",
           "490154203237518",     // 15 digits, Luhn holds
           "49-015420-323751-8",  // as printed in a phone's settings
           "IMEI 490154203237518.",
           "4111 1111 1111 1111",  // a card
           "123456789012",         // long run, whatever it is
           "https://example.org/me",
           "www.example.org",
           "R58M12ABCDE9",  // serial-like
           "sn 8A2X0123456",
           "0170_1234567",
           "0170,1234567",
           "0170\u00a01234567",                                       // no-break space
           "0170\u20131234567",                                       // en dash
           "\uff10\uff11\uff17\uff10\uff11\uff12\uff13\uff14\uff15",  // full-width digits
           "ann @ example.org",
           "ann@example",
           "WWW.example.org",
           "a n n @ e x a m p l e . o r g",
           "ann @ example . org",
           "ann(at)example(dot)org",
           "ann [ at ] example [ dot ] org",
           "write ann at example dot org",
           "ann\uff20example\uff0eorg",                                // full-width signs
           "ann@example\u3002org",                                     // ideographic full stop
           "ann\u200b@\u200bexample\u2024org",                         // zero-width spaces, one-dot leader
           "\u0430\u043d\u043d\u0430@\u043f\u043e\u0447\u0442\u0430",  // Cyrillic
           "\U0001d41a\U0001d427\U0001d427@\U0001d41e\U0001d431.org",  // mathematical letters
           "\u0660\u0661\u0667\u0660\u0661\u0662\u0663\u0664\u0665\u0666\u0667",  // Arabic-Indic
           "\u0966\u0967\u096d\u0966\u0967\u0968\u0969\u096a\u096b\u096c\u096d",  // Devanagari
           "\U0001d7ce\U0001d7cf\U0001d7d5\U0001d7ce\U0001d7cf\U0001d7d0\U0001d7d1\U0001d7d2\U0001d7d3",
           "\u2460\u2466\u24ea\u2460\u2461\u2462\u2463\u2464\u2465",  // circled
           "\u3007\u4e00\u4e03\u3007\u4e00\u4e8c\u4e09\u56db\u4e94",  // CJK
           "0170\u200b123\u200b4567",                                 // zero-width spaces
           "0\u0301170 1234567",                                      // a combining accent
           "0\ufe0f\u20e31\ufe0f\u20e370 1234567",                    // keycaps
           "49 - 015420 - 323751 - 8",
           "49/015420/323751/8",
           "4901 5420 3237 518",
           "49:01:54:20:32:37:51:8",
           "0170 : 123 : 4567",
           "0170*123*4567",
           "+49 (0) 170 / 123 45 67",
           "51.2007, 4.4001",
           "N 51.20071 E 4.40013",
           "5a:7e:ca:9a:21:0b",
           "5A-7E-CA-9A-21-0B",
           "mailto:ann",
           "example.org/me",
       })
    EXPECT_FALSE(personal_reason(text).empty()) << text;
}

TEST(Gate, WhatTheProgramComposedIsJudgedByShapeAlone) {
  EXPECT_TRUE(personal_shape("12345678").empty());  // eight digits: an article number of a record of old
  EXPECT_FALSE(personal_reason("12345678").empty());
  EXPECT_TRUE(ShopText::kept("PIN 4711", "record"));  // an earlier version let it in: it must stay readable
  EXPECT_FALSE(ShopText::kept("ring +49 170 1234567", "record"));
}

// Bug: zero-width, tag and bidirectional characters entered texts, labels and the shop's contact.
TEST(Gate, WhatIsNotSeenNeverEnters) {
  for (const char* hidden : {"\u0085", "\u009b",     "\u202e",     "\u2066",     "\u2069", "\u200b", "\u200d",
                             "\u200f", "\ufeff",     "\u00ad",     "\ufe0f",     "\u2028", "\u3164", "\ue000",
                             "\u0378", "\U000e0041", "\U000e0100", "\U0010ffff", "\u061c", "\u180e"}) {
    const auto text = std::string("screen ") + hidden + "dark";
    EXPECT_FALSE(all_seen(text));
    for (const auto& r : {ShopText::screened(text, "f"), ShopText::published(text, "f")}) {
      ASSERT_FALSE(r);
      EXPECT_EQ(r.error().code, ErrorCode::invalid_argument);
    }
  }
  for (const char* fine : {"Öffnen", "e\u0301cran", "الشاشة", "画面", "½ °C → 3", "\u0660"})
    EXPECT_TRUE(all_seen(fine)) << fine;
  EXPECT_FALSE(all_seen("\xff"));
}

TEST(Gate, ALotIsAShortCode) {
  EXPECT_EQ(ShopText::lot(" lot-24k7 ", "lot")->str(), "LOT-24K7");
  for (const char* lot : {"K7-113", "25A1-0042", "DH-24K7", "B2", "LOT-7", "2024-11", "004211"})
    EXPECT_TRUE(ShopText::lot(lot, "lot")) << lot;
  for (const char* no :
       {"", "A", "R5CT10ABCDE", "R5CT-10AB-123456", "490154203237518", "0170-1234567", "PIN-4711", "ANNA-2",
        "LOT 24K7", "ABCDEFGHIJ-KLMNOPQ", "ä1", "12345678", "code4711"})
    EXPECT_FALSE(ShopText::lot(no, "lot")) << no;
}

TEST(Gate, OnlyTheShopsOwnContactMayHoldANumber) {
  EXPECT_TRUE(ShopText::published("desk@shop.example, +49 30 1234567", "--contact"));
  EXPECT_FALSE(ShopText::published("two\nlines", "--contact"));
}

TEST(Gate, TheReasonIsGivenButNeverTheText) {
  const auto r = ShopText::screened("ring ann@example.org", "fault");
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::privacy);
  EXPECT_EQ(r.error().where, "fault");
  EXPECT_NE(r.error().what.find("e-mail"), std::string::npos);
  EXPECT_EQ(r.error().message().find("ann"), std::string::npos);
}

TEST(Gate, ScreenedTextIsOneLineOfValidText) {
  EXPECT_EQ(ShopText::screened("  trimmed \t", "f")->str(), "trimmed");
  EXPECT_EQ(ShopText::screened(std::string(400, 'x'), "f")->str().size(), 400U);
  const std::string refused[] = {std::string(401, 'x'), "two\nlines", std::string("z\0ero", 5), "\xff",
                                 "\xed\xa0\x80",        "bell\a"};
  for (const auto& t : refused) {
    const auto r = ShopText::screened(t, "f");
    ASSERT_FALSE(r);
    EXPECT_EQ(r.error().code, ErrorCode::invalid_argument);
  }
}

TEST(Luhn, AsInTheStandardsAnnex) {
  // 79927398713 is the worked example that goes with ISO/IEC 7812-1 annex B (from memory); 490154203237518
  // the usual sample IMEI.
  EXPECT_TRUE(luhn_valid("79927398713"));
  EXPECT_TRUE(luhn_valid("490154203237518"));
  for (const char d : {'0', '1', '2', '4', '5', '6', '7', '8', '9'})
    EXPECT_FALSE(luhn_valid(std::string("7992739871") + d)) << d;
  EXPECT_FALSE(luhn_valid(""));
  EXPECT_FALSE(luhn_valid("49015420323751x"));
}

}  // namespace
}  // namespace hb
