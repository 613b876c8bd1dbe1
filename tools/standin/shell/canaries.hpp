/// Invented personal content, planted wherever a real phone would show it. Whoever reads the stand-in may
/// keep none of it: a test that finds one of these texts in anything written, logged, served or sent has
/// found a leak. Threads: constants.
#pragma once

#include <array>
#include <cstdint>
#include <string>
#include <string_view>

namespace hb::standin {
struct Canary {
  std::string_view name, text;
};

inline constexpr std::array<Canary, 17> kCanaries{{
    {"serial", "VQ7XCANARY5R7K3Q"},  ///< of seed 1; others share its head and end in other 4 characters
    {"serial_head", "VQ7XCANARY5R"},
    {"imei", "358847061204934"},
    {"account", "mirabel.quandry@mail.example"},
    {"person", "Mirabel Quandry"},
    {"contact", "Osric Pendlewick"},
    {"package", "com.mirabelquandry.nightdiary"},
    {"app", "org.quandryfamily.letters"},
    {"ssid", "Quandry-Attic-5G"},
    {"old_ssid", "Pendlewick Guesthouse"},
    {"bssid", "5a:7e:ca:9a:21:0b"},
    {"mac", "02:ca:9a:77:e1:5c"},
    {"phone_number", "+32155501427179"},
    {"notification", "Your clinic results are ready"},
    {"window", "Dear sister, about the divorce"},
    {"bluetooth", "Mirabel's earbuds"},
    {"hostname", "mirabels-petal"},
}};

[[nodiscard]] constexpr std::string_view canary(std::string_view name) noexcept {
  for (const auto& c : kCanaries)
    if (c.name == name) return c.text;
  return {};
}

/// 16 characters: the common head and four that follow from the seed.
[[nodiscard]] std::string serial_of(std::uint64_t seed);
}  // namespace hb::standin
