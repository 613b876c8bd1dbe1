/// Presence and level of the radios: is Wi-Fi up, how strong is the bench's network, is Bluetooth up. Numbers
/// only; no name of a network, device or person is read from the link.
/// Capture   repeated readings: switches, states, received level in dBm.
/// Measures  see README.md; u with k = 1.
/// Errors    acquire: unsupported (the phone reports neither radio), what the phone gives. measure:
///           unsupported (no readings), bad_format (torn).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   `cmd wifi status`, `dumpsys bluetooth_manager`: AOSP (from memory); levels: IEEE 802.11 RSSI in
///           dBm as the platform gives it.
#pragma once

#include "checks/check.hpp"

namespace hb::checks {

struct Radios {
  struct Config {
    int readings = 12;
    bool bluetooth = true;
  };
  struct Reading {
    std::optional<bool> wifi_switched_on, wifi_up, bluetooth_switched_on, bluetooth_up;
    std::optional<int> wifi_dbm;
    friend bool operator==(const Reading&, const Reading&) = default;
  };
  struct Capture {
    std::vector<Reading> readings;
    friend bool operator==(const Capture&, const Capture&) = default;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, Config config) const;
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);
};

void to_json(nlohmann::json& j, const Radios::Capture& c);
void from_json(const nlohmann::json& j, Radios::Capture& c);

static_assert(CheckDefinition<Radios>);
}  // namespace hb::checks
