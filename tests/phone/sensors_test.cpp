#include <gtest/gtest.h>

#include <string>

#include "harness/phone/phone.hpp"
#include "texts.hpp"

namespace hb::phone {
namespace {
using Events = std::vector<SensorEvent>;

/// A dump with one listed hinge sensor called `name` and these recent-events lines.
std::string dump(const std::string& name, const std::string& events, const std::string& type = "36") {
  std::string padded = name;
  if (padded.size() < 25) padded.resize(25, ' ');
  return "Sensor List:\n0x0000001b) " + padded + " | Velmora         | ver: 1 | type: a.b.hinge(" + type +
         ") | perm: n/a | flags: 0x00000002\nFusion States:\nRecent Sensor events:\n" + name +
         ": last 9 events\n" + events + "Active sensors:\n";
}

TEST(Sensors, HingeEventsOldestFirstThoughPrintedNewestFirst) {
  const auto r = parse_sensor_events(texts::sensors, 36).value();
  EXPECT_TRUE(r.listed);
  EXPECT_FALSE(r.masked);
  EXPECT_EQ(r.events, (Events{{5123.42, {89.75}}, {5123.44, {90.5}}, {5123.46, {91.25}}}));
}

TEST(Sensors, ThreeAxes) {
  const auto r = parse_sensor_events(texts::sensors, 1).value();
  ASSERT_EQ(r.events.size(), 2u);
  EXPECT_EQ(r.events.back(), (SensorEvent{5123.456789012, {0.05, -0.11, 9.79}}));
}

TEST(Sensors, OldReleasesPrintOldestFirst) {
  const auto r =
      parse_sensor_events(
          dump("H", "\t 1 (ts=1.5, wall=00:00:00.000) 1.00, \n\t 2 (ts=2.5, wall=00:00:01.000) 2.00, \n"), 36)
          .value();
  EXPECT_EQ(r.events, (Events{{1.5, {1.0}}, {2.5, {2.0}}}));
}

// A sensor whose handle is 0 was not seen: its handle is printed without 0x.
TEST(Sensors, TheFirstHandleIsZero) {
  auto text = dump("H", "\t1 (ts=1.5, wall=x) 90, \n");
  text.replace(text.find("0x0000001b"), 10, "0000000000");
  const auto r = parse_sensor_events(text, 36).value();
  EXPECT_TRUE(r.listed);
  EXPECT_EQ(r.events, (Events{{1.5, {90.0}}}));
}

TEST(Sensors, RepeatedTimesAreDropped) {
  const auto r = parse_sensor_events(dump("H",
                                          "\t1 (ts=2.5, wall=x) 2, \n\t2 (ts=2.5, wall=x) 2, \n"
                                          "\t3 (ts=1.5, wall=x) 1, \n"),
                                     36)
                     .value();
  EXPECT_EQ(r.events, (Events{{1.5, {1.0}}, {2.5, {2.0}}}));
}

TEST(Sensors, MaskedValuesAreSaidAndNoneKept) {
  const auto r = parse_sensor_events(texts::sensors, 19).value();
  EXPECT_TRUE(r.listed);
  EXPECT_TRUE(r.masked);
  EXPECT_TRUE(r.events.empty());
}

TEST(Sensors, SilentIsListedWithoutEvents) {
  auto text = dump("H", "");
  const auto r = parse_sensor_events(text, 36).value();
  EXPECT_TRUE(r.listed);
  EXPECT_FALSE(r.masked);
  EXPECT_TRUE(r.events.empty());
}

TEST(Sensors, VendorTypeNumberIsAParameter) {
  const auto text = dump("H", "\t1 (ts=1.5, wall=x) 7.00, \n", "65601");
  EXPECT_FALSE(parse_sensor_events(text, 36).value().listed);
  EXPECT_EQ(parse_sensor_events(text, 65601).value().events, (Events{{1.5, {7.0}}}));
}

TEST(Sensors, NamesThatLookLikeOtherParts) {
  for (const std::string name : {"A | B", "A (36)", "x | type: y(36) | z", "last 9: last 2 events", "[H] {1}",
                                 "a name that is far longer than its column", "n | ver: 2 | type: q(1)"}) {
    const auto r = parse_sensor_events(dump(name, "\t1 (ts=1.5, wall=x) 7.00, \n"), 36).value();
    EXPECT_TRUE(r.listed) << name;
    EXPECT_EQ(r.events, (Events{{1.5, {7.0}}})) << name;
  }
}

TEST(Sensors, AnotherSensorWhoseNameBeginsTheSameIsNotMixedIn) {
  const std::string text =
      "Sensor List:\n"
      "0x1) Hinge                     | V               | ver: 1 | type: a(36) | perm: n/a | flags: 0x2\n"
      "0x2) Hinge raw                 | V               | ver: 1 | type: b(65600) | perm: n/a | flags: 0x2\n"
      "Recent Sensor events:\n"
      "Hinge raw: last 1 events\n\t1 (ts=1.0, wall=x) 1.00, \n"
      "Hinge: last 1 events\n\t1 (ts=1.0, wall=x) 2.00, \n";
  EXPECT_EQ(parse_sensor_events(text, 36).value().events, (Events{{1.0, {2.0}}}));
  EXPECT_EQ(parse_sensor_events(text, 65600).value().events, (Events{{1.0, {1.0}}}));
}

TEST(Sensors, TwoOfOneTypeAreNotMixed) {
  const std::string text =
      "Sensor List:\n"
      "0x1) Hinge                     | V               | ver: 1 | type: a(36) | perm: n/a | flags: 0x2\n"
      "0x2) Hinge (wake-up)           | V               | ver: 1 | type: a(36) | perm: n/a | flags: 0x3\n"
      "Recent Sensor events:\n"
      "Hinge (wake-up): last 1 events\n\t1 (ts=1.0, wall=x) 1.00, \n"
      "Hinge: last 1 events\n\t1 (ts=1.0, wall=x) 2.00, \n";
  EXPECT_EQ(parse_sensor_events(text, 36).value().events, (Events{{1.0, {2.0}}}));
}

TEST(Sensors, UnreadableEventsAreDropped) {
  const auto r = parse_sensor_events(dump("H",
                                          "\t1 (ts=nan, wall=x) 1.00, \n\t2 (ts=-1.0, wall=x) 1.00, \n"
                                          "\t3 (ts=1.0, wall=x) nan, \n\t4 (ts=1.1, wall=x) \n"
                                          "\t5 (ts=1.2, wall=x) 1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17\n"
                                          "\t6 (ts=1.3\n\t7 (ts=1.4, wall=x) 1.00, , 2.00\n"
                                          "\t8 (ts=1.5, wall=x) 8.00, \n"),
                                     36)
                     .value();
  EXPECT_EQ(r.events, (Events{{1.5, {8.0}}}));
}

TEST(Sensors, NoneOnThePhoneOrNoService) {
  EXPECT_FALSE(parse_sensor_events("No Sensors on the device\n", 36).value().listed);
  EXPECT_EQ(parse_sensor_events("Can't find service: sensorservice\n", 36).error().code,
            ErrorCode::unsupported);
  EXPECT_EQ(parse_sensor_events("", 36).error().code, ErrorCode::bad_format);
}
}  // namespace
}  // namespace hb::phone
