/// Personal content everywhere: with --gossip the stand-in says ten invented personal texts of its own in
/// each of twenty-seven places that a bench listens to (the answers to its commands, the banner, the
/// browser's requests, the fixture's replies). Together with canaries.hpp: what must never be found in
/// anything that a bench writes, prints, serves or sends. No text is said in two places, so a leak names its
/// place. Threads: constants.
#pragma once

#include <array>
#include <string>
#include <string_view>

namespace hb::standin::gossip {
enum class Place {
  banner,
  getprop,
  uptime,
  battery,
  cell,
  sensors,
  input_devices,
  touch,
  device_state,
  thermal,
  cameras,
  display_size,
  wake,
  open_page,
  start_load,
  stop_load,
  browser_headers,
  browser_fields,
  browser_path,
  fixture,
  usb,
  wifi,
  bluetooth,
  vibrator,
  biometric,
  telephony,
  nfc
};
inline constexpr std::size_t kPlaces = 27, kKinds = 10;
[[nodiscard]] std::string_view name(Place p) noexcept;

/// "person", "mail", "phone_number", "ssid", "package", "notification", "position", "imei", "serial",
/// "device".
[[nodiscard]] std::string_view kind_name(std::size_t kind) noexcept;
/// Precondition: kind < kKinds.
[[nodiscard]] std::string text(Place p, std::size_t kind);
/// All ten as one line of a service's dump, with the line end.
[[nodiscard]] std::string line(Place p);
}  // namespace hb::standin::gossip
