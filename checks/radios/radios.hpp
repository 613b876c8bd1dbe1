/// Presence and level of the radios: is Wi-Fi up, how strong is the bench's network, is Bluetooth up, is NFC
/// up, is the bench's SIM read, how strong is the mobile network. Numbers and closed words only; no name of a
/// network, device or person is read from the link.
/// Capture   repeated readings: switches, states, SIM cards read, received levels in dBm; what the technician
///           answered where the phone alone does not tell.
/// Measures  see README.md; u with k = 1.
/// Errors    acquire: unsupported (the phone reports no radio), what the phone and the hands give. measure:
///           unsupported (no readings), bad_format (torn).
/// Threads   acquire on the phone's strand; the rest pure, any thread.
/// Sources   `cmd wifi status`, `dumpsys bluetooth_manager`: AOSP (from memory); levels: IEEE 802.11 RSSI and
///           3GPP TS 36.214, 38.215 reference signal received power, in dBm as the platform gives them.
#pragma once

#include "checks/definition.hpp"

namespace hb::checks {

struct Radios {
  struct Config {
    int readings = 12;
    bool bluetooth = true, nfc = false;
    bool mobile = false;  ///< the bench puts a SIM of its own in
  };
  struct Reading {
    std::optional<bool> wifi_switched_on, wifi_up, bluetooth_switched_on, bluetooth_up, nfc_up;
    std::optional<int> wifi_dbm;
    std::optional<int> sims_read, sims_loaded;  ///< nullopt: no slot says whether there is a card
    std::optional<int> lte_dbm, nr_dbm;
    friend bool operator==(const Reading&, const Reading&) = default;
  };
  struct Capture {
    std::vector<Reading> readings;
    std::optional<bool> sim_is_in, nfc_is_on;  ///< the technician's word; nullopt: there was no need to ask
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
