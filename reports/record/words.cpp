#include "reports/record/words.hpp"

#include <algorithm>

namespace hb::record {
namespace {
constexpr Word kWaivers[] = {
    {"customer-declined", "the customer did not want this test"},
    {"part-not-fitted", "the part is not fitted on the customer's wish"},
    {"known-before", "known and agreed before the repair"},
};
constexpr Word kOtherPhone[] = {
    {"main-board-replaced", "the main board was replaced, and with it the serial number"},
    {"phone-exchanged", "the customer got another phone in exchange"},
};
constexpr Word kOpened[] = {
    {"rear-cover", "rear cover"},
    {"display", "display assembly or its connectors"},
    {"hinge", "hinge or its support plates"},
    {"hinge-sensor", "hinge sensor or its flex"},
    {"battery", "battery or its connector"},
    {"charging-port", "charging port or its flex"},
    {"wireless-coil", "wireless charging coil or its connector"},
    {"rear-camera", "rear camera or its connector"},
    {"front-camera", "front camera or its connector"},
    {"speaker", "speaker, receiver or its contacts"},
    {"microphone", "microphone or its gasket"},
    {"side-keys", "side keys or their flex"},
    {"vibration-motor", "vibration motor or its contacts"},
    {"antenna", "antenna or its cable"},
    {"sensor-flex", "sensor flex"},
    {"main-board", "main board or its seat"},
};
constexpr std::string_view kCore[] = {"touch_grid",        "hinge_sweep", "batteries",
                                      "wireless_charging", "wired_port",  "cameras"};
}  // namespace

std::span<const Word> waiver_reasons() noexcept { return kWaivers; }
std::span<const Word> other_phone_reasons() noexcept { return kOtherPhone; }
std::span<const Word> opened_parts() noexcept { return kOpened; }

const Word* find_word(std::span<const Word> list, std::string_view id) noexcept {
  const auto it = std::find_if(list.begin(), list.end(), [&](const Word& w) { return w.id.view() == id; });
  return it == list.end() ? nullptr : &*it;
}

std::string words_of(std::span<const Word> list) {
  std::string out;
  for (const auto& w : list) out += (out.empty() ? "" : ", ") + w.id.str();
  return out;
}

bool is_core_check(std::string_view id) noexcept {
  return std::find(std::begin(kCore), std::end(kCore), id) != std::end(kCore);
}
}  // namespace hb::record
