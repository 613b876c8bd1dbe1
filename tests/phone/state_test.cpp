#include <gtest/gtest.h>

#include <string>

#include "harness/phone/phone.hpp"
#include "texts.hpp"

namespace hb::phone {
namespace {

TEST(DeviceStates, OpenAndFree) {
  const auto r = parse_device_state(texts::device_state).value();
  EXPECT_EQ(r.committed, FoldState::open);
  EXPECT_FALSE(r.forced);
}

TEST(DeviceStates, ForcedIsSaid) {
  const auto r = parse_device_state(texts::device_state_forced).value();
  EXPECT_EQ(r.committed, FoldState::closed);
  EXPECT_TRUE(r.forced);
}

TEST(DeviceStates, NamesAreReadNumbersAreNot) {
  struct Case {
    std::string name;
    FoldState state;
  };
  for (const auto& c : std::vector<Case>{{"CLOSED", FoldState::closed},
                                         {"FOLDED_TENT", FoldState::closed},
                                         {"HALF_OPENED", FoldState::half_open},
                                         {"HALF_FOLDED", FoldState::half_open},
                                         {"HALF_CLOSED", FoldState::half_open},
                                         {"TENT", FoldState::half_open},
                                         {"CLOSE", FoldState::closed},
                                         {"DUAL_DISPLAY", FoldState::unknown},
                                         {"OPENED", FoldState::open},
                                         {"OPEN", FoldState::open},
                                         {"REAR_DISPLAY_STATE", FoldState::unknown},
                                         {"DEFAULT", FoldState::unknown},
                                         {"", FoldState::unknown}}) {
    const auto r = parse_device_state("  mCommittedState=Optional[DeviceState{identifier=0, name='" + c.name +
                                      "'}]\n  mOverrideState=Optional.empty\n")
                       .value();
    EXPECT_EQ(r.committed, c.state) << c.name;
  }
}

TEST(DeviceStates, FirstReleaseNamesItsOverrideOtherwise) {
  const std::string head = "mCommittedState=Optional[DeviceState{identifier=1, name='HALF_OPENED'}]\n";
  EXPECT_FALSE(
      parse_device_state(head + "mRequestedState=Optional.empty\nmRequestedOverrideState=Optional.empty\n")
          .value()
          .forced);
  EXPECT_TRUE(
      parse_device_state(head + "mRequestedOverrideState=Optional[1]\nCallbacks: size=3\n").value().forced);
}

TEST(DeviceStates, WithoutAReadableOverrideLineNothingIsTakenForFree) {
  const std::string head = "mCommittedState=Optional[DeviceState{identifier=1, name='OPENED'}]\n";
  for (const std::string rest : {"", "mOverrideState=\n", "mOverrideState=Optional\n", "mOverrideState=5\n"})
    EXPECT_EQ(parse_device_state(head + rest).error().code, ErrorCode::bad_format) << rest;
  EXPECT_EQ(parse_device_state("Can't find service: device_state\n").error().code, ErrorCode::unsupported);
}

TEST(Thermal, CurrentSkinAndBatteryOnly) {
  const auto r = parse_thermal(texts::thermal).value();
  EXPECT_FALSE(r.forced);
  EXPECT_EQ(r.status, 1);
  EXPECT_EQ(r.skin_c, 30.9) << "not the cached value, not NaN, not -99.9";
  EXPECT_EQ(r.battery_c, 29.8) << "current-limit entries are not temperatures";
}

TEST(Thermal, NameAndTypeDecideTogether) {
  const auto skin = [](const std::string& items) {
    return parse_thermal("IsStatusOverride: false\nThermal Status: 0\nCurrent temperatures from HAL:\n" +
                         items)
        .value()
        .skin_c;
  };
  const std::string cpu = "\tTemperature{mValue=80.0, mType=0, mName=cpu, mStatus=0}\n";
  EXPECT_EQ(skin(cpu + "\tTemperature{mValue=31.0, mType=4, mName=skin, mStatus=0}\n"), 31.0)
      << "numbers shifted by the vendor";
  EXPECT_EQ(skin(cpu + "\tTemperature{mValue=32.0, mType=3, mName=quiet_therm, mStatus=0}\n"), 32.0)
      << "a name of the vendor's";
  EXPECT_EQ(skin(cpu + "\tTemperature{mValue=33.0, mType=3, mName=battery, mStatus=0}\n"), std::nullopt);
  EXPECT_EQ(skin("\tTemperature{mValue=31.0, mType=3, mName=skin-a, mStatus=0}\n"
                 "\tTemperature{mValue=41.0, mType=3, mName=skin-b, mStatus=0}\n"
                 "\tTemperature{mValue=51.0, mType=9, mName=skin, mStatus=0}\n"),
            41.0)
      << "the hottest of those where both agree";
  EXPECT_EQ(skin(""), std::nullopt);
}

TEST(Thermal, ForcedOrUnreadableNeverPassesForFree) {
  EXPECT_TRUE(parse_thermal("IsStatusOverride: true\nThermal Status: 3\n").value().forced);
  EXPECT_EQ(parse_thermal("IsStatusOverride: maybe\nThermal Status: 0\n").error().code,
            ErrorCode::bad_format);
  EXPECT_EQ(parse_thermal("Thermal Status: 0\n").error().code, ErrorCode::bad_format);
  EXPECT_EQ(parse_thermal("IsStatusOverride: false\nThermal Status: 7\n").error().code,
            ErrorCode::bad_format);
  EXPECT_EQ(parse_thermal("Can't find service: thermalservice\n").error().code, ErrorCode::unsupported);
}

TEST(Cameras, CountsByFacing) {
  const auto r = parse_cameras(texts::cameras).value();
  EXPECT_EQ(r.total, 3);
  EXPECT_EQ(r.back, 2);
  EXPECT_EQ(r.front, 1);
}

TEST(Cameras, NoHalIsZeroAndADeadlockIsNotACount) {
  const auto none = parse_cameras("== Service global info: ==\n!! No camera HAL available !!\n").value();
  EXPECT_EQ(none.total, 0);
  EXPECT_EQ(
      parse_cameras("!! CameraService may be deadlocked !!\nNumber of camera devices: 3\n").error().code,
      ErrorCode::refused);
  EXPECT_EQ(parse_cameras("Number of camera devices: 99999999999999999999\n").error().code,
            ErrorCode::bad_format);
  EXPECT_EQ(parse_cameras("").error().code, ErrorCode::bad_format);
}

TEST(DisplaySizes, PhysicalSizeAndWhetherOverridden) {
  const auto r = parse_wm_size(texts::wm_size).value();
  EXPECT_EQ(r.width_px, 1080);
  EXPECT_EQ(r.height_px, 2640);
  EXPECT_FALSE(r.overridden);
  const auto o = parse_wm_size(texts::wm_size_override).value();
  EXPECT_EQ(o.height_px, 2640) << "the panel's own size, not the override";
  EXPECT_TRUE(o.overridden);
  for (const std::string bad : {"0x0", "1080", "1080x", "-5x9", "1080x2640x1", "999999999x1", "nanxnan"})
    EXPECT_EQ(parse_wm_size("Physical size: " + bad + "\n").error().code, ErrorCode::bad_format) << bad;
}

// Lines as BiometricSensor.java prints them, cut down by the command.
TEST(Fingerprint, ReadersAreCountedAmongTheSensors) {
  struct Row {
    std::string_view text;
    int readers;
  };
  for (const auto& r : std::vector<Row>{{texts::fingerprint, 1},
                                        {"Sensors:\r\nmodality 2\r\nmodality 2\r\n", 2},
                                        {"Sensors:\nmodality 8\n", 0},  // a face alone
                                        {"Sensors:\nmodality 4\n", 0},  // an iris alone
                                        {"Sensors:\n", 0},
                                        {"modality 2\n", 1},
                                        {"Sensors:\nmodality 21\nmodality 12\n", 0}})
    EXPECT_EQ(parse_fingerprint_readers(r.text).value(), r.readers) << r.text;
}

TEST(Fingerprint, WhatIsNotToldIsNoMissingReader) {
  EXPECT_EQ(parse_fingerprint_readers("Can't find service: biometric\n").error().code,
            ErrorCode::unsupported);
  for (const char* text : {"", "\n", "hello\n", "Sensors:\nmodality \n", "Sensors:\nmodality x2\n",
                           "Sensors:\nmodality 8\nmodality 99999999999\n"})
    EXPECT_EQ(parse_fingerprint_readers(text).error().code, ErrorCode::bad_format) << text;
}
}  // namespace
}  // namespace hb::phone
