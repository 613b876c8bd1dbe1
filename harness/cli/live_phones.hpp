// Private to harness/cli: what can be said of a phone on USB before a run: may it be opened, does it know
// this bench, which model is it. Nothing of the phone's own words is kept: the model is a known profile's
// name, of the serial number there are the last characters only.
#pragma once

#include <functional>
#include <string>

#include "harness/link/link.hpp"
#include "home.hpp"

namespace hb::cli {

enum class PhoneState {
  ready,      ///< a run can start
  allow,      ///< the phone's screen asks whether this bench may connect
  denied,     ///< the udev rule is missing
  busy,       ///< another program holds it
  no_answer,  ///< opened, but it does not speak
  unplugged
};
[[nodiscard]] std::string_view name(PhoneState s) noexcept;    ///< for JSON
[[nodiscard]] std::string_view advice(PhoneState s) noexcept;  ///< for people

struct LivePhone {
  link::UsbPlace place;
  PhoneState state = PhoneState::no_answer;
  std::string model;  ///< display name of the known profile that fits, or empty
  std::string tail;   ///< last characters of the serial number, as the record keeps them
};

/// Opens the phone and lets it go again. `told` hears of `allow` while the owner is waited for, for at most
/// `patience`; the result is how it ended.
[[nodiscard]] net::awaitable<LivePhone> look_at(Home home, link::BenchRsaKey key, link::UsbPlace place,
                                                net::milliseconds patience,
                                                std::function<void(const LivePhone&)> told);

/// Tells of every phone that is there, and until cancelled of every change.
[[nodiscard]] net::awaitable<Result<void>> watch_phones(Home home, link::BenchRsaKey key,
                                                        std::function<void(const LivePhone&)> told);
/// Those that are there now, each looked at once.
[[nodiscard]] net::awaitable<Result<std::vector<LivePhone>>> phones_now(Home home, link::BenchRsaKey key);
}  // namespace hb::cli
