// All parsers of phone text: the first byte ('0' to '?' in the kept corpus) chooses one, the rest is the
// text. The event parser must also give the same for any cut of its input.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>
#include <vector>

#include "harness/phone/phone.hpp"

namespace {
using namespace hb::phone;

void events(std::string_view text) {
  InputEventParser whole, cut;
  std::vector<InputEvent> a, b;
  whole.feed(text, a);
  const std::size_t step = 1 + (text.empty() ? 0 : static_cast<unsigned char>(text.back()) % 61);
  for (std::size_t at = 0; at < text.size(); at += step) cut.feed(text.substr(at, step), b);
  if (a != b || whole.bad_lines() != cut.bad_lines()) std::abort();
}
}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const std::string_view text(reinterpret_cast<const char*>(data) + 1, size - 1);
  switch (static_cast<unsigned>(data[0] - '0') % 16) {
    case 0:
      (void)parse_battery(text);
      break;
    case 1:
      (void)parse_cell(text);
      break;
    case 2:
      (void)parse_sensor_events(text, 36);
      break;
    case 3:
      (void)parse_input_devices(text);
      break;
    case 4:
      (void)parse_device_state(text);
      break;
    case 5:
      (void)parse_thermal(text);
      break;
    case 6:
      (void)parse_cameras(text);
      break;
    case 7:
      (void)parse_wm_size(text);
      break;
    case 9:
      (void)parse_wifi(text);
      break;
    case 10:
      (void)parse_bluetooth(text);
      break;
    case 11:
      (void)parse_fingerprint_readers(text);
      break;
    case 12:
      (void)parse_nfc(text);
      break;
    case 13:
      (void)parse_sim(text);
      break;
    case 14:
      (void)parse_mobile(text);
      break;
    case 15:
      (void)parse_supply(text);
      break;
    default:
      events(text);
      break;
  }
  return 0;
}
