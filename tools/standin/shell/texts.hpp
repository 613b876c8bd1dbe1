/// What the phone's shell prints, command by command, in the platform's own formats. Pure functions of the
/// phone's state; the format strings are those of the Android platform sources named at each.
/// Threads: pure.
#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>

#include "tools/standin/hands/world.hpp"

namespace hb::standin::text {
[[nodiscard]] std::string proc_uptime(const World& w);  ///< Linux fs/proc/uptime.c
[[nodiscard]] std::string battery(const World& w);      ///< frameworks/base BatteryService.java
[[nodiscard]] std::string battery_get(const World& w,
                                      std::string_view key);  ///< the same; empty: no such key
[[nodiscard]] std::string thermal(const World& w);            ///< frameworks/base ThermalManagerService.java
/// A file under /sys/class/power_supply ("NAME/ATTRIBUTE"); nullopt: no such file.
[[nodiscard]] std::optional<std::string> power_supply(const World& w, std::string_view path);
/// /sys/class/udc/NAME/current_speed (kernel ABI, sysfs-class-udc).
[[nodiscard]] std::string link_speed(const World& w);
[[nodiscard]] std::string power_supplies(const World& w);  ///< the names, one a line

[[nodiscard]] std::string sensors(const World& w);       ///< frameworks/native SensorService.cpp
[[nodiscard]] std::string biometric(const World& w);     ///< frameworks/base BiometricService.java
[[nodiscard]] std::string device_state(const World& w);  ///< frameworks/base DeviceStateManagerService.java
[[nodiscard]] std::string cmd_device_state(const World& w, std::string_view verb);

[[nodiscard]] std::string input_devices(const World& w);  ///< system/core toolbox getevent.c, -lp
/// One line of getevent -t or -lt, with the line end.
[[nodiscard]] std::string input_event(const World& w, const RawEvent& e, bool labels);

[[nodiscard]] std::string cameras(const World& w);  ///< frameworks/av CameraService.cpp
[[nodiscard]] std::string wm_size(const World& w);  ///< WindowManagerShellCommand.java
[[nodiscard]] std::string display(const World& w);  ///< DisplayManagerService.java, in part

[[nodiscard]] std::string properties(const World& w);                      ///< all of them, as a bare getprop
[[nodiscard]] std::string property(const World& w, std::string_view key);  ///< empty: not set

// Full of personal content. Nobody who respects an owner asks for these.
[[nodiscard]] std::string notifications(const World& w);
[[nodiscard]] std::string wifi(const World& w);
[[nodiscard]] std::string bluetooth(const World& w);  ///< BluetoothManagerService.java, in part, from memory
[[nodiscard]] std::string wifi_status(const World& w);
[[nodiscard]] std::string telephony(const World& w);  ///< frameworks/base TelephonyRegistry.java, in part
[[nodiscard]] std::string nfc(const World& w);        ///< packages/apps/Nfc NfcService.java, in part
[[nodiscard]] std::string accounts(const World& w);
[[nodiscard]] std::string usb(const World& w);
[[nodiscard]] std::string input_dump(const World& w);

/// The state in force: forced, or what the hinge says.
[[nodiscard]] Fold committed_fold(const World& w) noexcept;
}  // namespace hb::standin::text
