// The right phone, the right job: what a run may be signed as, and what it goes on from.
#include <gtest/gtest.h>

#include <fstream>
#include <regex>

#include "harness/net/clock.hpp"
#include "reports/ledger/ledger.hpp"
#include "reports/record/utc.hpp"
#include "whole.hpp"

namespace hb::test {
namespace {
namespace fs = std::filesystem;
using nlohmann::json;

/// Three quick checks of the slab phone; what opening the display disturbs is known, nothing else is.
constexpr const char* kShort = R"([phone]
name = "Velmora Plank"
device = "plank"
model = "VM-S1"
checks = ["radios", "touch_grid", "keys"]
[[display]]
name = "inner"
touch_max_x = 1079
touch_max_y = 2339
width_mm = 68.0
height_mm = 147.3
report_rate_hz = 180
[[limit]]
measure = "touch_grid.dead_area_pct"
upper = 2.0
origin = "common practice"
[keys]
presses = 3
[[key]]
name = "power"
code = 116
[[key]]
name = "volume up"
code = 115
[[key]]
name = "volume down"
code = 114
[[limit]]
measure = "keys.presses_missed"
upper = 0
origin = "common practice"
[radios]
readings = 5
nfc = true
mobile = true
[[limit]]
measure = "radios.wifi_up"
lower = 1
origin = "common practice"
[disturbs]
display = ["touch_grid"]
)";

struct RightJob : testing::Test {
  TempFolder t;
  std::string home = t / "home";
  std::unique_ptr<Background> phone;
  json ports;

  void SetUp() override { make_bench(home); }
  void make_bench(const std::string& folder) {
    ASSERT_EQ(
        at(folder, {"bench", "init", "--shop", "Tarn Street Phones", "--contact", "3 Tarn Street"}).code, 0);
    std::ofstream(folder + "/profiles/short.toml") << kShort;
  }
  Finished at(const std::string& folder, std::vector<std::string> words) {
    words.insert(words.begin(), {handback(), "--json", "--home", folder});
    return run(words, 100);
  }
  Finished call(std::vector<std::string> words) { return at(home, std::move(words)); }
  void plug_in(const std::string& seed, std::vector<std::string> more = {}) {
    std::vector<std::string> words{standin(),   "--port", "0",       "--jig-port", "0",
                                   "--browser", "none",   "--clock", "stepped",    "--model",
                                   "plank",     "--seed", seed};
    words.insert(words.end(), more.begin(), more.end());
    phone.reset();
    phone = std::make_unique<Background>(words);
    ports = json::parse(phone->first_line(), nullptr, false);
    ASSERT_TRUE(ports.is_object()) << phone->first_line();
  }
  /// Goes away in the middle of the checklist and comes back after the run has given up.
  void plug_in_loosely(const std::string& seed) {
    plug_in(seed, {"--pull-after-packets", "300", "--back-after-ms", "5000"});
  }
  [[nodiscard]] std::vector<std::string> on_phone() const {
    return {"--device", "tcp:127.0.0.1:" + std::to_string(ports["port"].get<int>()), "--fixture",
            "tcp:127.0.0.1:" + std::to_string(ports["jig_port"].get<int>())};
  }
  Finished checklist_at(const std::string& folder, const std::vector<std::string>& more) {
    std::vector<std::string> words{"run"};
    for (const auto& w : on_phone()) words.push_back(w);
    words.insert(words.end(), more.begin(), more.end());
    return at(folder, words);
  }
  Finished checklist(const std::vector<std::string>& more = {}) { return checklist_at(home, more); }
  std::string job(std::vector<std::string> more = {}) {
    std::vector<std::string> words{"intake",   "--fault",      "screen dark",
                                   "--repair", "display swap", "--consent"};
    words.insert(words.end(), more.begin(), more.end());
    const auto r = call(words);
    EXPECT_EQ(r.code, 0) << r.err;
    return r.json().value("job", "");
  }
  /// The number of a run that was paused.
  std::string paused(const std::vector<std::string>& more) {
    auto words = more;
    words.insert(words.end(), {"--wait", "1"});
    const auto r = checklist(words);
    EXPECT_EQ(r.code, 4) << r.out << r.err;
    hint = r.json().value("resume", "");
    EXPECT_NE(r.err.find(hint), std::string::npos) << r.err;
    return r.json().value("run", "");
  }
  json record_of(const Finished& r) {
    const auto v = call({"verify", r.json().value("record", "")});
    EXPECT_EQ(v.code, 0) << v.out << v.err << r.out << r.err;
    return v.json()["record"];
  }
  [[nodiscard]] json outcomes(const json& record) const {
    json out = json::object();
    for (const auto& c : record["checks"]) out[c["id"].get<std::string>()] = c["outcome"];
    return out;
  }
  std::string hint;
};

void says(const Finished& r, std::vector<std::string> words) {
  EXPECT_EQ(r.code, 2) << r.out << r.err;
  for (const auto& w : words) EXPECT_NE(r.err.find(w), std::string::npos) << "'" << w << "' in: " << r.err;
}

// A paused intake run of job A, resumed as printed, was signed as a release run of job B.
TEST_F(RightJob, TheHintOfAPausedRunGoesOnWithItsJobAndKind) {
  const auto a = job();
  plug_in_loosely("4");
  const auto id = paused({"--job", a, "--kind", "intake", "--paper", "letter"});
  job();  // the newest open one
  ASSERT_FALSE(hint.empty());
  const auto r = run({"sh", "-c", "sleep 5; " + hint + " --json"}, 100);
  EXPECT_EQ(r.code, 0) << hint << "\n" << r.out << r.err;
  const auto record = record_of(r);
  EXPECT_EQ(record["run"]["id"], id);
  EXPECT_EQ(record["run"]["kind"], "intake");
  EXPECT_EQ(record["job"]["id"], a);
}

// Job, kind, profile and phone of a resumed run were taken from the command line and not from its journal.
TEST_F(RightJob, AResumeRefusesWhatDiffersAndNamesBoth) {
  const auto a = job(), b = job();
  plug_in("4", {"--pull-after-packets", "300", "--back-after-ms", "3600000"});
  const auto id = paused({"--job", a, "--kind", "intake"});
  plug_in("5");
  const auto shipped = std::string(HB_SOURCE_DIR) + "/profiles/models/plank.toml";
  says(checklist({"--resume", id, "--job", b}), {a, b});
  says(checklist({"--resume", id, "--kind", "release"}), {"intake", "release"});
  says(checklist({"--resume", id, "--profile", shipped}), {"short.toml", "plank.toml"});
  const auto other = checklist({"--resume", id});
  says(other, {"this run began with .."});
  EXPECT_TRUE(std::regex_search(other.err, std::regex(R"(phone \.\.\w{4} .* began with \.\.\w{4})")))
      << other.err;
  plug_in("4");
  fs::rename(home + "/profiles/short.toml", t / "kept.toml");
  says(checklist({"--resume", id}), {"Velmora Plank", "short.toml", "--profile"});
  EXPECT_EQ(checklist({"--resume", id, "--profile", t / "kept.toml"}).code, 0);
}

// Two benches on one ledger: bench A's run took bench B's job without a word.
TEST_F(RightJob, ARunWithoutAJobTakesTheOnlyOpenOneOfThisBenchOrListsThem) {
  const auto a = job();
  const auto other = t / "other";
  make_bench(other);
  plug_in("4");
  says(checklist_at(other, {"--ledger", home + "/ledger.sqlite"}), {"no job of this bench is open"});
  const auto b = job();
  const auto two = checklist();
  says(two, {"2 jobs", a, b, "display swap", "no phone yet"});
  ASSERT_EQ(checklist({"--job", a}).code, 0);
  says(checklist(), {"here for job " + a, b});  // b is the only open one, and this is a's phone
  plug_in("5");
  EXPECT_EQ(record_of(checklist())["job"]["id"], b);
  says(checklist(), {"no job of this bench is open"});
  ASSERT_EQ(call({"bench", "key", "rotate"}).code, 0);
  const auto c = job();
  ASSERT_EQ(call({"bench", "key", "rotate"}).code, 0);
  plug_in("6");
  EXPECT_EQ(record_of(checklist())["job"]["id"], c);
}

// Intake with one serial number, release with another: pass, and no warning.
TEST_F(RightJob, AJobKeepsItsPhone) {
  const auto a = job();
  plug_in("4");
  ASSERT_EQ(checklist({"--job", a, "--kind", "intake"}).code, 0);
  plug_in("5");
  const auto r = checklist({"--job", a});
  says(r, {"--other-phone", "main-board-replaced", "phone-exchanged"});
  EXPECT_TRUE(std::regex_search(r.err, std::regex(R"(phone \.\.\w{4} is connected.* phone \.\.\w{4})")))
      << r.err;
  EXPECT_EQ(checklist({"--job", a, "--other-phone", "because"}).code, 2);
  const auto with_reason = record_of(checklist({"--job", a, "--other-phone", "main-board-replaced"}));
  EXPECT_EQ(with_reason["run"]["other_phone"], "main-board-replaced");
  says(checklist({"--job", a, "--other-phone", "phone-exchanged"}), {"Leave --other-phone away"});

  const auto back = job({"--comeback-of", a});
  plug_in("4");
  says(checklist({"--job", back, "--kind", "comeback"}), {a, "--other-phone"});
  plug_in("5");
  EXPECT_EQ(checklist({"--job", back, "--kind", "comeback"}).code, 0);
}

TEST_F(RightJob, APausedRunBindsThePhoneToo) {
  std::string a, id;
  for (const auto* packets : {"150", "300", "600", "1200"}) {  // until something was measured
    a = job();
    plug_in("4", {"--pull-after-packets", packets, "--back-after-ms", "3600000"});
    id = paused({"--job", a});
    const auto list = call({"run", "--list"}).json();
    ASSERT_TRUE(list.is_array() && !list.empty());
    if (list.back().value("checks_done", 0) > 0) break;
  }
  plug_in("5");
  says(checklist({"--job", a}), {id, "--other-phone", "run --drop " + id});
  EXPECT_EQ(call({"run", "--drop", id}).code, 0);
  EXPECT_EQ(checklist({"--job", a}).code, 0);
  says(call({"run", "--drop", id}), {"no such run"});
}

// Two programs resumed one run, and both wrote its journal.
TEST_F(RightJob, ASecondResumeHearsWhoHoldsTheRun) {
  const auto a = job();
  plug_in("4", {"--pull-after-packets", "300", "--back-after-ms", "3600000"});
  const auto id = paused({"--job", a});
  std::string command = "echo on; exec " + handback() + " --home " + home + " run --wait 60 --resume " + id;
  plug_in("4", {"--pull-after-packets", "60", "--back-after-ms", "3600000"});
  for (const auto& w : on_phone()) command += " " + w;
  const Background first({"sh", "-c", command + " 2>/dev/null"});
  Finished r;
  for (int i = 0; i < 50; ++i) {
    if (fs::exists(home + "/runs/" + id + ".lock")) break;
    static_cast<void>(run({"sleep", "0.1"}));
  }
  r = checklist({"--resume", id});
  EXPECT_TRUE(std::regex_search(r.err, std::regex(R"(process \d+, since 20\d\d-)"))) << r.err;
  EXPECT_EQ(r.code, 2);
}

// A fail could not be mended: a retest of a finished run ended with "give the run a number of its own".
TEST_F(RightJob, AFailIsReplacedAfterANamedRepairAndTheOthersStand) {
  const auto a = job();
  plug_in("4", {"--fault", "digitizer-row-open"});
  const auto failed = checklist();
  ASSERT_EQ(failed.code, 1) << failed.err;
  const auto first = failed.json()["run"].get<std::string>();
  plug_in("4");
  for (const auto& words :
       std::vector<std::vector<std::string>>{{"--job", a},
                                             {"--job", a, "--only", "touch_grid"},
                                             {"--resume", first, "--retest", "touch_grid"},
                                             {"--job", a, "--only", "touch_grid", "--opened-again", "roof"}})
    says(checklist(words), {"--opened-again"});
  const auto mended = checklist({"--resume", first, "--retest", "touch_grid", "--opened-again", "display"});
  EXPECT_EQ(mended.code, 0) << mended.out << mended.err;
  const auto record = record_of(mended);
  EXPECT_NE(record["run"]["id"], first);
  EXPECT_EQ(record["run"]["follows"], (json{{"run", first}, {"opened", {"display"}}}));
  EXPECT_EQ(outcomes(record), (json{{"touch_grid", "pass"}, {"keys", "pass"}, {"radios", "pass"}}));
  for (const auto& c : record["checks"])
    EXPECT_EQ(c["taken"]["run"], c["id"] == "touch_grid" ? record["run"]["id"] : json(first)) << c["id"];
  EXPECT_EQ(call({"verify", failed.json()["sheet_pdf"]}).json()["status"], "superseded");

  // A part that the profile knows nothing of disturbs all: what is not taken again is not tested.
  const auto partly = checklist({"--job", a, "--only", "keys", "radios", "--mended", "battery"});
  EXPECT_EQ(partly.code, 3) << partly.out << partly.err;
  EXPECT_EQ(outcomes(record_of(partly)),
            (json{{"touch_grid", "not tested"}, {"keys", "pass"}, {"radios", "pass"}}));
  const auto rest = checklist({"--job", a, "--only", "touch_grid"});
  EXPECT_EQ(rest.code, 0) << rest.out << rest.err;
  const auto all = checklist({"--job", a, "--opened-again", "battery"});
  EXPECT_EQ(all.code, 0) << all.err;
  EXPECT_EQ(all.json()["checks"].size(), 3u);
  for (const auto& c : record_of(all)["checks"]) EXPECT_EQ(c["taken"]["run"], all.json()["run"]);
}

TEST_F(RightJob, AFailStaysWhenTheRepairDidNotTouchIt) {
  const auto a = job();
  plug_in("4", {"--fault", "radio-absent"});
  ASSERT_EQ(checklist().code, 1);
  says(checklist({"--job", a, "--only", "radios", "--opened-again", "display"}),
       {"radios", "--opened-again"});
  const auto r = checklist({"--job", a, "--opened-again", "display"});
  EXPECT_EQ(r.code, 1) << r.out << r.err;
  EXPECT_EQ(outcomes(record_of(r))["radios"], "fail");
}

TEST_F(RightJob, APausedRunOfChosenChecksGoesOnWithThem) {
  const auto a = job();
  plug_in("4");
  const auto whole = checklist();
  ASSERT_EQ(whole.code, 0) << whole.err;
  plug_in("4", {"--pull-after-packets", "100", "--back-after-ms", "3600000"});
  const auto id = paused({"--job", a, "--only", "touch_grid", "--opened-again", "display"});
  plug_in("4");
  says(checklist({"--resume", id, "--only", "keys"}), {"--only"});
  const auto r = checklist({"--resume", id});
  EXPECT_EQ(r.code, 0) << r.err;
  const auto record = record_of(r);
  EXPECT_EQ(record["run"]["follows"]["run"], whole.json()["run"]);
  EXPECT_EQ(record["checks"][0]["taken"]["run"], whole.json()["run"]);
}

// 13 of 14 checks waived gave "Passed", exit 0, signed.
TEST_F(RightJob, OnlyWhatTheCustomerAgreedToIsWaivedAndACoreCheckMakesItIncomplete) {
  EXPECT_EQ(
      call({"intake", "--fault", "screen dark", "--repair", "display swap", "--waive", "keys:no-time"}).code,
      2);
  const auto a = job({"--waive", "keys:known-before", "--waive", "touch_grid:customer-declined"});
  plug_in("4");
  says(checklist({"--waive", "radios:customer-declined"}), {a, "radios", "intake"});
  says(checklist({"--waive", "keys:customer-declined"}), {"keys"});
  const auto incomplete = checklist({"--waive", "touch_grid:customer-declined"});
  EXPECT_EQ(incomplete.code, 3) << incomplete.out << incomplete.err;
  const auto record = record_of(incomplete);
  EXPECT_EQ(record["outcome"], "not tested");
  EXPECT_EQ(outcomes(record)["touch_grid"], "waived");
  EXPECT_EQ(record["job"]["waivers"].size(), 2u);
  const auto agreed = checklist({"--job", a, "--waive", "keys:known-before"});
  EXPECT_EQ(agreed.code, 0) << agreed.out << agreed.err;
  EXPECT_EQ(agreed.json()["outcome"], "waived");
}

// A clock that was set back during a run left no trace.
TEST_F(RightJob, AClockThatRanBackwardsIsInTheRecord) {
  job();
  plug_in("4", {"--pull-after-packets", "300", "--back-after-ms", "3600000"});
  const auto id = paused({});
  const auto file = home + "/runs/" + id + ".jsonl";
  auto text = slurp(file);
  const auto later = record::utc_text(net::utc_now_s() + 5000);
  text = std::regex_replace(text, std::regex(R"("started":"[^"]*")"), "\"started\":\"" + later + "\"");
  std::ofstream(file, std::ios::trunc) << text;
  plug_in("4");
  const auto record = record_of(checklist({"--resume", id}));
  EXPECT_NEAR(record["run"].value("clock_back_s", 0.0), 5000, 100);
}

// A run could be signed with a time before what the ledger already held.
TEST_F(RightJob, NothingIsSignedBeforeTheLedgersLastHeadAndTheRunIsKept) {
  const auto a = job();
  plug_in("4");
  const auto place = home + "/ledger.sqlite";
  fs::copy_file(place, t / "before.sqlite");
  {
    const auto key = sign::SigningKey::load(home + "/keys/bench-sign.jwk");
    ASSERT_TRUE(key);
    auto ahead = ledger::Ledger::open(place, *key, {.utc_now_s = [] { return net::utc_now_s() + 3600; }});
    ASSERT_TRUE(ahead);
    record::Job j;
    j.fault = Term("screen dark"), j.repair_kind = Term("display swap");
    ASSERT_TRUE(ahead->open_job(j));
  }
  const auto r = checklist({"--job", a});
  EXPECT_EQ(r.code, 4) << r.out << r.err;
  EXPECT_NE(r.err.find("clock"), std::string::npos) << r.err;
  const auto id = r.json()["run"].get<std::string>();
  for (const auto* more : {"-wal", "-shm"}) fs::remove(place + more);
  fs::copy_file(t / "before.sqlite", place, fs::copy_options::overwrite_existing);
  EXPECT_EQ(checklist({"--resume", id}).code, 0);
}

TEST_F(RightJob, AJobIsNotTakenInTomorrow) {
  const auto words = [](const std::string& when) {
    return std::vector<std::string>{"intake", "--fault", "screen dark", "--repair", "swap", "--opened", when};
  };
  says(call(words(record::utc_text(net::utc_now_s() + 86400))), {"--opened"});
  EXPECT_EQ(call(words(record::utc_text(net::utc_now_s() - 86400))).code, 0);
}

// --resume of a run whose sheets could not be written ended with "give the run a number of its own".
TEST_F(RightJob, AFinishedRunsFilesAreWrittenAgain) {
  job();
  plug_in("4");
  const auto done = checklist();
  ASSERT_EQ(done.code, 0) << done.err;
  const auto before = slurp(done.json()["record"].get<std::string>());
  fs::remove_all(home + "/sheets/" + done.json()["run"].get<std::string>());
  const auto again = call({"run", "--resume", done.json()["run"]});
  EXPECT_EQ(again.code, 0) << again.err;
  EXPECT_EQ(slurp(again.json()["record"].get<std::string>()), before);
  says(call({"run", "--resume", done.json()["run"], "--kind", "intake"}), {"release", "intake"});
}

// `verify --root root.jwk sheet.pdf` gave the sheet to --root.
TEST_F(RightJob, OptionsStandBeforeOrAfterTheFile) {
  job();
  plug_in("4");
  const auto done = checklist().json();
  const auto root = call({"bench", "root", "create"}).json()["public"].get<std::string>();
  ASSERT_EQ(call({"bench", "root", "certify", "--from", "2020-01-01T00:00:00Z", "--label", "one"}).code, 0);
  for (const auto& words :
       std::vector<std::vector<std::string>>{{"verify", "--root", root, done["sheet_pdf"]},
                                             {"verify", done["sheet_pdf"], "--root", root},
                                             {"sheet", "--out", t / "a", "--language", "de", done["run"]},
                                             {"sheet", done["run"], "--out", t / "b", "--language", "de"}}) {
    const auto r = call(words);
    EXPECT_EQ(r.code, 0) << words[1] << r.out << r.err;
  }
}
}  // namespace
}  // namespace hb::test
