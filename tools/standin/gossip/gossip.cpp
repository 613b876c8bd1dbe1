#include "tools/standin/gossip/gossip.hpp"

#include <fmt/format.h>

namespace hb::standin::gossip {
namespace {
constexpr std::array<std::string_view, kPlaces> kPlaceNames{"banner",
                                                            "getprop",
                                                            "uptime",
                                                            "battery",
                                                            "cell",
                                                            "sensors",
                                                            "input_devices",
                                                            "touch",
                                                            "device_state",
                                                            "thermal",
                                                            "cameras",
                                                            "display_size",
                                                            "wake",
                                                            "open_page",
                                                            "start_load",
                                                            "stop_load",
                                                            "browser_headers",
                                                            "browser_fields",
                                                            "browser_path",
                                                            "fixture",
                                                            "usb",
                                                            "wifi",
                                                            "bluetooth",
                                                            "vibrator",
                                                            "biometric",
                                                            "telephony",
                                                            "nfc"};
constexpr std::array<std::string_view, kKinds> kKindNames{"person",  "mail",         "phone_number", "ssid",
                                                          "package", "notification", "position",     "imei",
                                                          "serial",  "device"};
constexpr std::array<std::string_view, kPlaces> kFirst{
    "Adelina",  "Bastien",  "Corwin",  "Delphine", "Evander",  "Fennimore", "Gwendal",
    "Hesper",   "Ignace",   "Jocasta", "Kasimir",  "Leocadia", "Mortimer",  "Nerissa",
    "Orlando",  "Perpetua", "Quillon", "Rosamund", "Sidonie",  "Thaddeus",  "Ulrika",
    "Valerian", "Winifred", "Xanthe",  "Yolanda",  "Zebedee",  "Ambrosine"};
constexpr std::array<std::string_view, kPlaces> kLast{
    "Averbuck",  "Brambleigh", "Cottesloe",  "Dunwiddle",  "Eastermain",  "Fotherby",   "Gadsworth",
    "Hallimond", "Inchbald",   "Jessamy",    "Kettlewick", "Lovibond",    "Mossgrove",  "Nettlefold",
    "Oglethorn", "Pomfrey",    "Quennell",   "Rackstraw",  "Skeffington", "Tolliver",   "Umfraville",
    "Venables",  "Wetherall",  "Yarborough", "Zouche",     "Attwater",    "Bickerstaff"};

std::string lower(std::string_view s) {
  std::string out(s);
  for (auto& c : out)
    if (c >= 'A' && c <= 'Z') c = static_cast<char>(c - 'A' + 'a');
  return out;
}

/// ISO/IEC 7812-1 annex B, so that the number looks like a real one to a screen.
std::string with_check_digit(std::string digits) {
  int sum = 0;
  for (std::size_t i = 0; i < digits.size(); ++i) {
    int d = digits[digits.size() - 1 - i] - '0';
    if (i % 2 == 0) d = d * 2 > 9 ? d * 2 - 9 : d * 2;
    sum += d;
  }
  return digits + static_cast<char>('0' + (10 - sum % 10) % 10);
}
}  // namespace

std::string_view name(Place p) noexcept { return kPlaceNames[static_cast<std::size_t>(p)]; }
std::string_view kind_name(std::size_t kind) noexcept { return kKindNames[kind]; }

std::string text(Place p, std::size_t kind) {
  const auto n = static_cast<std::size_t>(p);
  const auto first = kFirst[n], last = kLast[n];
  switch (kind) {
    case 0:
      return fmt::format("{} {}", first, last);
    case 1:
      return fmt::format("{}.{}@post.example", lower(last), lower(first));
    case 2:
      return fmt::format("+32155{:07}", 3141592 + 271829 * n);
    case 3:
      return fmt::format("{}-Loft-{}G", last, 20 + n);
    case 4:
      return fmt::format("com.{}{}.moodlog", lower(first), n);
    case 5:
      return fmt::format("Dr {} moved your scan to room {}", last, 300 + n);
    case 6:
      return fmt::format("51.{:05},4.{:05}", 20071 + 3317 * n, 40013 + 2203 * n);
    case 7:
      return with_check_digit(fmt::format("35884{:09}", 110503817 + 7919317 * n));
    case 8:
      return fmt::format("VG{:02}KLATSCH{:05}", n, 70301 + 911 * n);
    default:
      return fmt::format("{}'s hearing aid", first);
  }
}

std::string line(Place p) {
  std::string out = "  Recent:";
  for (std::size_t k = 0; k < kKinds; ++k) out += fmt::format(" {}[{}]", kind_name(k), text(p, k));
  return out + "\n";
}
}  // namespace hb::standin::gossip
