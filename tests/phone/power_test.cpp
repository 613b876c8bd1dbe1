#include <gtest/gtest.h>

#include <string>

#include "harness/phone/phone.hpp"
#include "texts.hpp"

namespace hb::phone {
namespace {

TEST(Battery, EveryKeyInItsUnit) {
  const auto r = parse_battery(texts::battery).value();
  EXPECT_EQ(r.uptime_s, 5123.45);
  EXPECT_EQ(r.ac, false);
  EXPECT_EQ(r.usb, true);
  EXPECT_EQ(r.wireless, false);
  EXPECT_EQ(r.dock, false);
  EXPECT_EQ(r.max_charging_ma, 500.0);   // microampere in the text
  EXPECT_EQ(r.max_charging_mv, 5000.0);  // microvolt in the text
  EXPECT_EQ(r.charge_counter_mah, 2391.0);
  EXPECT_EQ(r.status, ChargeStatus::charging);
  EXPECT_EQ(r.health, 2);
  EXPECT_EQ(r.present, true);
  EXPECT_EQ(r.level_pct, 64);
  EXPECT_EQ(r.voltage_mv, 3987.0);   // millivolt in the text
  EXPECT_EQ(r.temperature_c, 28.4);  // tenths in the text
  EXPECT_FALSE(r.updates_stopped);
}

TEST(Battery, FrozenIsSaid) { EXPECT_TRUE(parse_battery(texts::battery_frozen).value().updates_stopped); }

TEST(Battery, OldLayoutWithoutDockAndWithVendorExtras) {
  const auto r = parse_battery(
                     "Current Battery Service state:\r\n  AC powered: true\r\n  level: 12\r\n"
                     "  Capacity level: 99\r\n  mOtherVoltage: 1\r\n  level: 77\r\n")
                     .value();
  EXPECT_EQ(r.ac, true);
  EXPECT_EQ(r.level_pct, 12) << "the first of two equal keys wins";
  EXPECT_EQ(r.uptime_s, std::nullopt);
  EXPECT_EQ(r.dock, std::nullopt);
  EXPECT_EQ(r.voltage_mv, std::nullopt);
}

TEST(Battery, UnreadableValuesAreNotReported) {
  for (const std::string v :
       {"", "NaN", "nan", "inf", "1e3", "0x10", "99999999999999999999", "12 34", "--5", "9000000000000000"}) {
    const auto r =
        parse_battery("  voltage: " + v + "\n  level: " + v + "\n  temperature: " + v + "\n").value();
    EXPECT_EQ(r.voltage_mv, std::nullopt) << v;
    EXPECT_EQ(r.level_pct, std::nullopt) << v;
    EXPECT_EQ(r.temperature_c, std::nullopt) << v;
  }
  const auto r = parse_battery("level: 101\nstatus: 9\nhealth: 0\npresent: maybe\nlevel: 50\n").value();
  EXPECT_EQ(r.level_pct, std::nullopt) << "an unreadable first key still hides a second";
  EXPECT_EQ(r.status, std::nullopt);
  EXPECT_EQ(r.health, std::nullopt);
  EXPECT_EQ(r.present, std::nullopt);
}

TEST(Battery, NoServiceIsUnsupportedAndNonsenseIsBadFormat) {
  EXPECT_EQ(parse_battery("1.0 2.0\nCan't find service: battery\n").error().code, ErrorCode::unsupported);
  EXPECT_EQ(parse_battery("hello\n").error().code, ErrorCode::bad_format);
  EXPECT_EQ(parse_battery("").error().code, ErrorCode::bad_format);
}

TEST(Cell, EveryKeyInItsUnitSignAsReported) {
  const auto r = parse_cell(texts::cell).value();
  EXPECT_TRUE(r.readable);
  EXPECT_EQ(r.uptime_s, 5123.45);
  EXPECT_EQ(r.present, true);
  EXPECT_EQ(r.voltage_mv, 3987.25);
  EXPECT_EQ(r.current_ma, -281.5);
  EXPECT_EQ(r.temperature_c, 28.4);
  EXPECT_EQ(r.charge_counter_mah, 1497.6);
  EXPECT_EQ(r.charge_full_mah, 2301.0);
  EXPECT_EQ(r.charge_full_design_mah, 2340.0);
  EXPECT_EQ(r.cycle_count, 12);
  EXPECT_EQ(r.capacity_pct, 64);
  EXPECT_EQ(r.status, ChargeStatus::not_charging);
}

TEST(Cell, DeniedOrAbsentIsNotReadable) {
  for (const std::string_view text :
       {texts::cell_denied, std::string_view{}, std::string_view{"cat: voltage_now: Permission denied\n"},
        std::string_view{"5123.45 20110.02\n"}}) {
    const auto r = parse_cell(text).value();
    EXPECT_FALSE(r.readable);
    EXPECT_EQ(r.voltage_mv, std::nullopt);
  }
  EXPECT_EQ(parse_cell(texts::cell_denied).value().uptime_s, 5123.45);
  EXPECT_EQ(parse_cell("something else\n").error().code, ErrorCode::bad_format);
}

TEST(Cell, UnpluggedPackIsReadAsNotPresent) {
  const auto r = parse_cell("9.00 9.00\npresent=0\nvoltage_now=0\ncurrent_now=\nstatus=Unknown\n").value();
  EXPECT_TRUE(r.readable);
  EXPECT_EQ(r.present, false);
  EXPECT_EQ(r.voltage_mv, 0.0);
  EXPECT_EQ(r.current_ma, std::nullopt);
  EXPECT_EQ(r.status, ChargeStatus::unknown);
}
}  // namespace
}  // namespace hb::phone
