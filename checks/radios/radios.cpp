// Everything but the waiting. Pure: the same capture gives the same bits.
#include "checks/radios/radios.hpp"

#include <algorithm>
#include <cmath>

#include "checks/kernel/summary.hpp"
#include "checks/optional_json.hpp"
#include "checks/seen.hpp"

namespace hb::checks {
using nlohmann::json;
namespace {
constexpr double kLevelGain_db =
    3;  // absolute accuracy of a receiver's own level: common practice, no source
/// Absolute accuracy of RSRP in normal conditions: 3GPP TS 36.133, 9.1.2.1 (from memory).
constexpr double kRsrpGain_db = 6;
constexpr std::size_t kFewest = 5;

ShopText wifi_part() { return Term("Wi-Fi"); }
ShopText bluetooth_part() { return Term("Bluetooth"); }
ShopText nfc_part() { return Term("NFC"); }
ShopText sim_part() { return Term("SIM"); }
ShopText mobile_part() { return Term("mobile network"); }

using Reading = Radios::Reading;

/// The levels of one receiver. nullopt: the capture is torn.
template <class Take>
std::optional<std::vector<double>> levels(const Radios::Capture& c, int least, int most, Take take) {
  std::vector<double> out;
  for (const Reading& r : c.readings) {
    const std::optional<int> dbm = take(r);
    if (dbm && (*dbm < least || *dbm > most)) return std::nullopt;
    if (dbm) out.push_back(*dbm);
  }
  return out;
}

Measure median_level(Term key, ShopText part, const std::vector<double>& level, double gain_db) {
  const double scatter = kernel::median_uncertainty(level);
  return {key,
          std::move(part),
          kernel::median(level),
          std::sqrt(scatter * scatter + gain_db * gain_db / 3),
          "dBm",
          static_cast<std::int64_t>(level.size())};
}

/// A card that is lost once is not seen well, so the fewest count. To have none in is no fault.
void measure_sim(const Radios::Capture& c, Measured& out) {
  std::int64_t n = 0;
  int fewest = 0, most = 0;
  for (const Reading& r : c.readings) {
    if (!r.sims_read) continue;
    fewest = n == 0 ? *r.sims_read : std::min(fewest, *r.sims_read);
    most = std::max(most, *r.sims_read);
    ++n;
  }
  if (n > 0 && (most > 0 || c.sim_is_in.value_or(false)))
    out.measures.push_back({"radios.sim_seen", sim_part(), static_cast<double>(fewest), 0, "1", n});
}

void measure_nfc(const Radios::Capture& c, Measured& out) {
  std::int64_t n = 0;
  bool up = false;
  for (const Reading& r : c.readings)
    if (r.nfc_up) ++n, up = *r.nfc_up;  // it may still have been starting
  const bool ever = std::any_of(c.readings.begin(), c.readings.end(),
                                [](const Reading& r) { return r.nfc_up.value_or(false); });
  if (n > 0 && (ever || c.nfc_is_on.value_or(false)))
    out.measures.push_back({"radios.nfc_up", nfc_part(), up ? 1.0 : 0.0, 0, "1", n});
}

/// False: the capture is torn. One technology only, since the levels of two cannot be compared.
bool measure_mobile(const Radios::Capture& c, Measured& out) {
  const auto loaded = [](const Reading& r, std::optional<int> dbm) {
    return r.sims_loaded.value_or(0) > 0 ? dbm : std::nullopt;
  };
  // 3GPP TS 38.133: SS-RSRP is told from -156 to -31 dBm.
  const auto lte = levels(c, -156, -31, [&](const Reading& r) { return loaded(r, r.lte_dbm); });
  const auto nr = levels(c, -156, -31, [&](const Reading& r) { return loaded(r, r.nr_dbm); });
  if (!lte || !nr) return false;
  const auto& level = lte->size() >= kFewest ? *lte : *nr;
  if (level.size() >= kFewest)
    out.measures.push_back(median_level("radios.mobile_level_dbm", mobile_part(), level, kRsrpGain_db));
  return true;
}

/// Why something else than Wi-Fi and Bluetooth was not measured; empty: it was, or they were not either.
Term why_missing(const Radios::Capture& c, const Radios::Config& config, const Measured& m) {
  const auto has = [&m](std::string_view key) {
    return std::any_of(m.measures.begin(), m.measures.end(),
                       [key](const Measure& x) { return x.key.view() == key; });
  };
  if (!has("radios.wifi_up") || !has("radios.level_dbm") || (config.bluetooth && !has("radios.bluetooth_up")))
    return {};
  if (config.mobile && !has("radios.sim_seen"))
    return c.sim_is_in == false
               ? Term("no SIM was in, so that neither its reader nor the mobile network was tested")
               : Term("the phone does not tell whether a SIM is in");
  const auto any = [&c](std::optional<int> Reading::*cards) {
    return std::any_of(c.readings.begin(), c.readings.end(),
                       [cards](const Reading& r) { return (r.*cards).value_or(0) > 0; });
  };
  if (config.mobile && !has("radios.mobile_level_dbm")) {
    if (any(&Reading::sims_loaded))
      return "no mobile network was heard: either none reaches this place, or the antenna is not connected";
    return any(&Reading::sims_read)
               ? Term("the SIM was locked or not read to its end, so that the mobile network was not tested")
               : Term();
  }
  if (config.nfc && !has("radios.nfc_up"))
    return c.nfc_is_on == false ? Term("NFC is switched off")
                                : Term("the phone does not tell whether NFC is on");
  return {};
}

}  // namespace

CheckInfo Radios::needs() {
  return {"radios", "Radios", "Wireless connections", {Resource::hands}, std::chrono::seconds{6}, ""};
}

std::vector<SectionSpec> Radios::sections() {
  return {{"radios",
           false,
           {{"readings", KeyType::integer, "readings to take, 5 to 100", false, 5, 100},
            {"bluetooth", KeyType::boolean, "false when the model has no Bluetooth", false},
            {"nfc", KeyType::boolean, "true when the model has NFC", false},
            {"mobile", KeyType::boolean, "true when the bench puts a SIM of its own in", false}}}};
}

Result<Radios::Config> Radios::configure(const Sections& sections) {
  Config c;
  if (const Section* s = sections.one("radios")) {
    c.readings = static_cast<int>(s->integer("readings", c.readings));
    c.bluetooth = s->boolean("bluetooth", true);
    c.nfc = s->boolean("nfc", false);
    c.mobile = s->boolean("mobile", false);
  }
  return c;
}

std::vector<Term> Radios::limit_keys() {
  return {"radios.wifi_up", "radios.bluetooth_up", "radios.level_dbm",       "radios.level_spread_db",
          "radios.nfc_up",  "radios.sim_seen",     "radios.mobile_level_dbm"};
}

Result<Measured> Radios::measure(const Capture& capture, const Config& config) {
  if (capture.readings.empty())
    return Error{ErrorCode::unsupported, "this phone reports the state of no radio", "radios", ""};
  const Error torn{ErrorCode::bad_format, "the capture is torn: a level is out of range", "radios",
                   "Run the check again."};
  Measured out;
  // A radio whose switch is off was not asked to be up: nothing is said of it.
  const auto state = [&](Term key, const ShopText& part, auto switched_on, auto up) {
    std::int64_t n = 0, n_up = 0;
    for (const auto& r : capture.readings)
      if ((r.*up).has_value() && (r.*switched_on).value_or(false)) ++n, n_up += *(r.*up) ? 1 : 0;
    if (n > 0) out.measures.push_back({key, part, 2 * n_up > n ? 1.0 : 0.0, 0, "1", n});
  };
  state("radios.wifi_up", wifi_part(), &Reading::wifi_switched_on, &Reading::wifi_up);
  state("radios.bluetooth_up", bluetooth_part(), &Reading::bluetooth_switched_on, &Reading::bluetooth_up);
  const auto level = levels(capture, -126, 0, [](const Reading& r) { return r.wifi_dbm; });
  if (!level) return torn;
  if (level->size() >= kFewest) {
    out.measures.push_back(median_level("radios.level_dbm", wifi_part(), *level, kLevelGain_db));
    const auto n = static_cast<std::int64_t>(level->size());
    const double sd = std::max(kernel::standard_deviation(*level), 1 / std::sqrt(12.0));
    out.measures.push_back({"radios.level_spread_db", wifi_part(), sd,
                            sd / std::sqrt(2 * (static_cast<double>(n) - 1)), "dB", n});
  }
  if (config.nfc) measure_nfc(capture, out);
  if (config.mobile) {
    measure_sim(capture, out);
    if (!measure_mobile(capture, out)) return torn;
  }
  out.missing = why_missing(capture, config, out);
  return out;
}

std::vector<Finding> Radios::diagnose(std::span<const Verdict> verdicts, const Capture&, const Config&) {
  std::vector<Finding> out;
  for (const std::string_view key : {"radios.wifi_up", "radios.bluetooth_up", "radios.nfc_up"})
    for (const Verdict& v : verdicts)
      if (v.measure.key.view() == key && is_bad(v))
        out.push_back(
            {"radio_absent",
             "The radio is switched on but does not come up: either its module is damaged, or the main "
             "board was bent.",
             "Restart once; if it stays so, the radio on the main board needs repair.",
             v.measure.part,
             {v.measure}});
  if (const Seen wifi{verdicts, wifi_part()}; wifi.bad("radios.level_dbm"))
    out.push_back(wifi.finding(
        "antenna_flex_open",
        "The bench's network comes in far too weak: either an antenna cable or its flex is not "
        "seated, or an antenna contact is bent.",
        "Reseat the antenna cable and the antenna flex, and look at the spring contacts to the frame.",
        {"radios.level_dbm"}));
  if (const Seen sim{verdicts, sim_part()}; sim.bad("radios.sim_seen"))
    out.push_back(sim.finding(
        "sim_reader_not_seen",
        "The phone does not read the SIM, or loses it: either none lies rightly in the tray, or the board "
        "with "
        "the SIM reader is not seated.",
        "Put the tray in anew; then reseat the board or flex with the SIM reader, and look at its springs.",
        {"radios.sim_seen"}));
  if (const Seen mobile{verdicts, mobile_part()}; mobile.bad("radios.mobile_level_dbm"))
    out.push_back(mobile.finding(
        "antenna_flex_open",
        "The mobile network comes in far too weak: either the cable or flex of the mobile antenna is not "
        "seated, or one of its contacts is bent.",
        "Reseat the cable and the flex of the mobile antenna, and look at its spring contacts to the frame.",
        {"radios.mobile_level_dbm"}));
  return out;
}

void to_json(json& j, const Radios::Capture& c) {
  json all = json::array();
  for (const auto& r : c.readings)
    all.push_back(
        json::array({or_null(r.wifi_switched_on), or_null(r.wifi_up), or_null(r.wifi_dbm),
                     or_null(r.bluetooth_switched_on), or_null(r.bluetooth_up), or_null(r.nfc_up),
                     or_null(r.sims_read), or_null(r.sims_loaded), or_null(r.lte_dbm), or_null(r.nr_dbm)}));
  j = json{
      {"readings", std::move(all)}, {"sim_is_in", or_null(c.sim_is_in)}, {"nfc_is_on", or_null(c.nfc_is_on)}};
}

void from_json(const json& j, Radios::Capture& c) {
  c = {};
  for (const auto& r : j.at("readings")) {
    Radios::Reading x;
    x.wifi_switched_on = maybe<bool>(r.at(0)), x.wifi_up = maybe<bool>(r.at(1));
    x.wifi_dbm = maybe<int>(r.at(2));
    x.bluetooth_switched_on = maybe<bool>(r.at(3)), x.bluetooth_up = maybe<bool>(r.at(4));
    x.nfc_up = maybe<bool>(r.at(5));
    x.sims_read = maybe<int>(r.at(6)), x.sims_loaded = maybe<int>(r.at(7));
    x.lte_dbm = maybe<int>(r.at(8)), x.nr_dbm = maybe<int>(r.at(9));
    c.readings.push_back(x);
  }
  c.sim_is_in = maybe<bool>(j.at("sim_is_in"));
  c.nfc_is_on = maybe<bool>(j.at("nfc_is_on"));
}

}  // namespace hb::checks
