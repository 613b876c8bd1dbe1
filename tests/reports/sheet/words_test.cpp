// The closing table of the terminal, and the sentences that every face shares.
#include "samples.hpp"

namespace hb::sheet {
namespace {

TEST(TextSummary, NamesEachCheckItsVerdictAndWhatToOpenAgain) {
  const std::string t = text_summary(sample("petal_fold_dead"), false);
  for (const char* part : {"Velmora Petal", "7F3K", "J-20261125-0002", "XX Touch grid", "ok Cameras",
                           "Open again: Reseat the display", "Bench time 4\u00A0min 28\u00A0s"})
    EXPECT_NE(t.find(part), std::string::npos) << part << "\n" << t;
  EXPECT_EQ(t.find('\x1b'), std::string::npos);
  const std::string coloured = text_summary(sample("petal_fold_dead"), true);
  EXPECT_NE(coloured.find("\x1b[1;31m"), std::string::npos);
  EXPECT_EQ(occurrences(coloured, "\x1b["), 2 * occurrences(coloured, "\x1b[0m")) << "each colour is closed";
}

TEST(TextSummary, TellsWhySomethingWasNotTested) {
  const std::string t = text_summary(sample("plank_untested"), false);
  EXPECT_NE(t.find("The battery is full"), std::string::npos) << t;
  EXPECT_NE(t.find("Simulated demonstration"), std::string::npos);
}

nlohmann::json one_check(const char* id, const char* outcome,
                         std::initializer_list<nlohmann::json> verdicts) {
  nlohmann::json c{{"id", id}, {"customer_title", "T"}, {"outcome", outcome}, {"verdicts", verdicts}};
  return {{"run", {{"clock", "wall"}}}, {"outcome", outcome}, {"checks", {c}}};
}
nlohmann::json value(const char* key, const char* part, double v, const char* unit, const char* outcome,
                     nlohmann::json lower = {}, nlohmann::json upper = {}) {
  return {{"key", key}, {"part", part},       {"value", v},     {"u", 0.1},      {"unit", unit},
          {"n", 3},     {"outcome", outcome}, {"lower", lower}, {"upper", upper}};
}

nlohmann::json exact(nlohmann::json value) {
  value["u"] = 0;
  return value;
}

TEST(Sentences, SayTheNumberThatMatters) {
  struct Row {
    const char* name;
    nlohmann::json record;
    const char* says;
  };
  const Row rows[] = {
      {"a cell that is not there",
       one_check("batteries", "fail", {value("batteries.present", "battery-sub", 0, "1", "fail", 1)}),
       "Battery sub did not answer."},
      {"a resistive connector",
       one_check("batteries", "fail",
                 {value("batteries.resistance_mohm", "battery-main", 295, "mohm", "fail", {}, 152)}),
       "Battery main: electrical resistance 295\u00A0mΩ, at most 152\u00A0mΩ allowed."},
      {"a coil that never couples",
       one_check("wireless_charging", "fail", {value("wireless_charging.coupled", "", 0, "1", "fail", 1)}),
       "Did not start to charge on the pad."},
      {"drop-outs",
       one_check("wireless_charging", "fail",
                 {value("wireless_charging.net_current_ma", "", 1640, "mA", "pass", 1200),
                  value("wireless_charging.dropouts", "", 4, "1", "fail", {}, 0)}),
       "Charged wirelessly at 1.6\u00A0A, with 4 breaks while lying still."},
      {"a port that is dead one way round",
       one_check("wired_port", "fail",
                 {value("wired_port.powered", "first way", 1, "1", "pass", 1),
                  value("wired_port.powered", "turned", 0, "1", "fail", 1),
                  value("wired_port.link_mbit_s", "turned", 0, "Mbit/s", "fail", 5000)}),
       "Did not charge by cable with the plug turned over.</td>"},
      {"a port that loses contact",
       one_check("wired_port", "fail",
                 {value("wired_port.current_ma", "first way", 2990, "mA", "pass", 2400),
                  exact(value("wired_port.wiggle_dropouts", "first way", 4, "1", "fail", {}, 0))}),
       "Charged by cable at 3.0\u00A0A, whichever way round the plug was. The first way round: breaks while "
       "the plug was moved 4, none allowed."},
      {"a microphone that hears nothing",
       one_check("sound", "fail",
                 {exact(value("sound.speaker_heard", "loudspeaker", 1, "1", "pass", 1)),
                  value("sound.speaker_level_db", "loudspeaker", 1.2, "dB", "pass", -7),
                  value("sound.speaker_treble_db", "loudspeaker", -1.2, "dB", "pass", -7),
                  value("sound.speaker_thd_pct", "loudspeaker", 3.1, "%", "pass", {}, 15),
                  value("sound.speaker_rub_buzz_db", "loudspeaker", -50, "dB", "pass", {}, -22),
                  exact(value("sound.microphone_heard", "bottom microphone", 0, "1", "fail", 1))}),
       "Bottom microphone heard nothing. Loudspeaker sounded clear.</td>"},
      {"a speaker whose mesh is blocked",
       one_check("sound", "fail",
                 {exact(value("sound.speaker_heard", "earpiece", 1, "1", "pass", 1)),
                  value("sound.speaker_treble_db", "earpiece", -12.1, "dB", "fail", -7),
                  exact(value("sound.microphone_heard", "top microphone", 1, "1", "pass", 1)),
                  value("sound.microphone_level_db", "top microphone", 0, "dB", "pass", -7),
                  value("sound.microphone_treble_db", "top microphone", -1, "dB", "pass", -7)}),
       "Every microphone heard the test tone. Earpiece: high notes against the middle ones "},
      {"an antenna that is not connected",
       one_check("radios", "fail",
                 {value("radios.wifi_up", "Wi-Fi", 1, "1", "pass", 1),
                  value("radios.bluetooth_up", "Bluetooth", 1, "1", "pass", 1),
                  value("radios.level_dbm", "Wi-Fi", -83, "dBm", "fail", -65)}),
       "Wi-Fi and Bluetooth came up. Wi-Fi: level of our network -83\u00A0dBm, at least -65\u00A0dBm "
       "wanted."},
      {"a SIM reader without contact",
       one_check("radios", "fail",
                 {exact(value("radios.wifi_up", "Wi-Fi", 1, "1", "pass", 1)),
                  exact(value("radios.nfc_up", "NFC", 1, "1", "pass", 1)),
                  exact(value("radios.sim_seen", "SIM", 0, "1", "fail", 1)),
                  value("radios.mobile_level_dbm", "mobile network", -118, "dBm", "fail", -105)}),
       "Wi-Fi and NFC came up. A SIM was not read, or was lost in between. Mobile network: received power "
       "-118\u00A0dBm, at least -105\u00A0dBm wanted."},
      {"a motor that was felt by hand only",
       one_check("vibration", "pass",
                 {value("vibration.silent_bursts", "", 0, "1", "pass", {}, 0),
                  value("vibration.observed_felt", "", 1, "1", "pass")}),
       "The technician felt the motor, which is their word and not a measurement."},
      {"a sensor that is not listed",
       one_check("presence", "fail",
                 {value("presence.listed", "light sensor", 1, "1", "pass", 1),
                  value("presence.listed", "proximity sensor", 0, "1", "fail", 1)}),
       "The phone does not list: proximity sensor."},
      {"a fingerprint reader that is not listed",
       one_check("presence", "fail",
                 {exact(value("presence.listed", "light sensor", 1, "1", "pass", 1)),
                  exact(value("presence.fingerprint_readers", "", 0, "1", "fail", 1))}),
       "The phone lists all its small sensors. The phone does not list its fingerprint reader.</td>"},
      {"a housing that was looked at",
       one_check("housing", "pass",
                 {value("housing.observed_screws_missing", "bottom edge", 0, "1", "pass", {}, 0),
                  value("housing.observed_gap_mm", "back cover", 0.1, "mm", "pass", {}, 0.2)}),
       "Seen by the technician, not measured: every screw is in place and no gap is wider than 0.10\u00A0mm. "
       "Keeping water out was not tested."},
      {"a forgotten screw",
       one_check("housing", "fail",
                 {exact(value("housing.observed_screws_missing", "bottom edge", 1, "1", "fail", {}, 0))}),
       "Bottom edge: screws missing or too many 1, none allowed. Keeping water out was not tested."},
      {"a torn key flex",
       one_check("keys", "fail",
                 {value("keys.presses_seen", "power", 3, "1", "pass"),
                  value("keys.presses_missed", "power", 0, "1", "pass", {}, 0),
                  value("keys.presses_seen", "volume up", 0, "1", "pass"),
                  value("keys.presses_missed", "volume up", 3, "1", "fail", {}, 0)}),
       "Every press was seen of the power key. No press was seen of the volume up key."},
      {"a key that chatters",
       one_check("keys", "fail", {value("keys.bounces", "power", 6, "1", "fail", {}, 0)}),
       "The contact of the power key chattered 6 times."},
      {"a key held down",
       one_check("keys", "fail",
                 {value("keys.stuck_at_rest", "volume down", 1, "1", "fail", {}, 0),
                  value("keys.presses_seen", "volume down", 0, "1", "pass")}),
       "The volume down key is held down by itself."},
      {"an accelerometer that is off",
       one_check("motion", "fail", {value("motion.offset_ms2", "z", 2.1, "m/s2", "fail", -0.6, 0.6)}),
       "Axis z: reading at rest off by 2.1\u00A0m/s², at most 0.60\u00A0m/s² allowed."},
      {"a dead axis",
       one_check("motion", "fail", {value("motion.response", "y", 0.001, "1", "fail", 0.95, 1.05)}),
       "Did not feel gravity along axis y."},
      {"motion sensors that are right",
       one_check("motion", "pass",
                 {value("motion.response", "x", 1, "1", "pass", 0.95, 1.05),
                  value("motion.offset_ms2", "x", 0.1, "m/s2", "pass", -0.6, 0.6),
                  value("motion.gyro_bias_deg_s", "x", 0.1, "deg/s", "pass", -2, 2)}),
       "Felt gravity right on all six sides. Reported no turn while lying still."},
      {"a shifted magnet",
       one_check("hinge_sweep", "fail",
                 {value("hinge_sweep.offset_square_deg", "", 9.13, "deg", "fail", -3, 3)}),
       "The angle it reports is up to 9.1° wrong."},
      {"a missing camera",
       one_check("cameras", "fail",
                 {value("cameras.present", "wide", 0, "1", "fail", 1),
                  value("cameras.present", "ultra", 1, "1", "pass", 1)}),
       "Camera wide did not answer. Camera ultra took test pictures."},
      {"one of two cameras missing, and which cannot be told",
       one_check("cameras", "fail",
                 {value("cameras.present", "wide", 0.5, "1", "fail", 1),
                  value("cameras.present", "ultra", 0.5, "1", "fail", 1),
                  value("cameras.present", "selfie", 1, "1", "pass", 1)}),
       "Camera selfie took test pictures."},
      {"drop-outs of the angle",
       one_check("hinge_sweep", "fail",
                 {value("hinge_sweep.gap_deg", "", 19.2, "deg", "pass", {}, 30),
                  value("hinge_sweep.dropout_clusters", "", 1, "1", "fail", {}, 0)}),
       "It falls silent on the way, over 19°."},
      {"lost on a small shift",
       one_check("wireless_charging", "fail",
                 {value("wireless_charging.shifted_kept", "", 0, "1", "fail", 1)}),
       "Charging stopped when the phone was moved a little on the pad."},
      {"haze", one_check("cameras", "fail", {value("cameras.glare_pct", "wide", 14.2, "%", "fail", {}, 6)}),
       "Camera wide: haze 14\u00A0%, at most 6.0\u00A0% allowed."},
      {"ghost touches",
       one_check("touch_grid", "fail", {value("touch_grid.ghost_contacts", "inner", 12, "1", "fail", {}, 0)}),
       "12 touches were reported while nobody touched it."},
      {"near the limit: enough digits to differ",
       one_check("batteries", "marginal",
                 {value("batteries.resistance_mohm", "main", 80.4, "mohm", "marginal", {}, 80)}),
       "electrical resistance 80.4\u00A0mΩ, at most 80.0\u00A0mΩ allowed."}};
  for (const auto& row : rows) {
    const auto html = customer_html(row.record, inputs());
    ASSERT_TRUE(html) << row.name;
    EXPECT_NE(html->find(row.says), std::string::npos) << row.name << ": " << row.says;
  }
}

TEST(Sentences, TheCureTimeIsTheRecordsElseTheShopsWords) {
  struct Row {
    nlohmann::json hours;
    const char *words, *language, *says;
  };
  const Row rows[] = {{24, "", "en", "Treat the phone gently for 24 hours, until"},
                      {1, "", "en", "Treat the phone gently for 1 hour, until"},
                      {1.5, "two days", "de", "Behandeln Sie das Telefon 1,5 Stunden lang vorsichtig"},
                      {nullptr, "two days", "en", "Treat the phone gently for two days, until"},
                      {nullptr, "", "en", "Ask us for how long"},
                      {-3, "", "en", "Ask us for how long"}};
  for (const auto& row : rows) {
    nlohmann::json r = sample("petal_pass");
    if (!row.hours.is_null()) r["job"]["cure_hours"] = row.hours;
    SheetInputs in = inputs();
    in.cure_time = row.words;
    in.language = row.language;
    const auto html = customer_html(r, in);
    ASSERT_TRUE(html);
    EXPECT_NE(html->find(row.says), std::string::npos) << row.says;
  }
}

TEST(Sentences, ValuesWithoutALimitProveNothing) {
  nlohmann::json free = value("cameras.mtf50_centre_cpp", "wide", 0.3, "cpp", "pass");
  free["outcome"] = nullptr;
  const auto html = customer_html(
      one_check("cameras", "pass", {value("cameras.present", "wide", 1, "1", "pass", 1), free}), inputs());
  ASSERT_TRUE(html);
  EXPECT_NE(html->find("Camera wide took test pictures."), std::string::npos);
  EXPECT_EQ(html->find("sharp"), std::string::npos);
}

TEST(Sentences, SingleMissedFieldsOfAPassAreNoAlarm) {
  nlohmann::json r = sample("petal_pass");
  r["checks"][0]["plots"][0]["series"][0]["values"][7] = 0;
  const auto html = customer_html(r, inputs());
  ASSERT_TRUE(html);
  EXPECT_NE(html->find("475 of the 476 fields of the inner screen answered"), std::string::npos);
  EXPECT_EQ(html->find("did not answer"), std::string::npos);
}

TEST(Sentences, NothingIsClaimedThatWasNotMeasured) {
  const auto bare = customer_html(one_check("cameras", "pass", {}), inputs());
  ASSERT_TRUE(bare);
  for (const char* claim : {"sharp", "haze", "took test pictures", "seconds"})
    EXPECT_EQ(bare->find(claim), std::string::npos) << claim;
  const auto untested = customer_html(one_check("touch_grid", "not tested", {}), inputs());
  EXPECT_EQ(untested->find("touch positions"), std::string::npos) << "privacy names only what was read";
}
}  // namespace
}  // namespace hb::sheet
