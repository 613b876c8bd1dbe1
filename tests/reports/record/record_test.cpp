#include <gtest/gtest.h>

#include <limits>

#include "reports/record/record.hpp"
#include "reports/record/utc.hpp"
#include "reports/record/words.hpp"
#include "tests/reports/record/small_record.hpp"

namespace hb::record {
namespace {
using nlohmann::json;
using testing_support::small_record;

TEST(Record, FollowsItsSchemaAndSurvivesWritingAndReading) {
  const auto j = to_json(small_record());
  const auto valid = validate(j);
  ASSERT_TRUE(valid) << valid.error().message();
  const auto text = canonical(j);
  ASSERT_TRUE(text);
  const auto back = parse_strict(*text);
  ASSERT_TRUE(back);
  EXPECT_EQ(*canonical(*back), *text);
  const auto& v = (*back)["checks"][0]["verdicts"];
  EXPECT_EQ(v[0]["value"].get<double>(), 1.0 / 3);  // every digit of a measure
  EXPECT_TRUE(v[1]["outcome"].is_null());
  EXPECT_TRUE(v[1]["lower"].is_null());
  const auto& values = (*back)["checks"][0]["plots"][0]["series"][0]["values"];
  EXPECT_EQ(values[0].get<double>(), 0.33333);  // 5 significant digits of a plot
  EXPECT_EQ(values[1].get<double>(), 123460.0);
  const auto job = job_from_json((*back)["job"]);
  ASSERT_TRUE(job);
  EXPECT_EQ(to_json(*job), j["job"]);
}

struct Spoiled {
  const char* situation;
  const char* pointer;  ///< what is changed
  json value;           ///< discarded: the member is removed
  ErrorCode code;
  const char* where;  ///< what the error names
};

TEST(Record, TheWhitelistNamesThePlace) {
  const json gone(json::value_t::discarded);
  const Spoiled rows[] = {
      {"a stray member", "/phone/imei", "1", ErrorCode::bad_format, "/phone"},
      {"a stray member deep down", "/checks/0/verdicts/0/note", "x", ErrorCode::bad_format,
       "/checks/0/verdicts/0"},
      {"a member is missing", "/run/link", gone, ErrorCode::bad_format, "/run/link"},
      {"wrong type", "/job/consent", "yes", ErrorCode::bad_format, "/job/consent"},
      {"a cure time in words", "/job/cure_hours", "a day", ErrorCode::bad_format, "/job/cure_hours"},
      {"a cure time of no adhesive", "/job/cure_hours", 0, ErrorCode::bad_format, "/job/cure_hours"},
      {"number as text", "/checks/0/verdicts/0/value", "1", ErrorCode::bad_format,
       "/checks/0/verdicts/0/value"},
      {"text too long", "/job/fault", std::string(401, 'x'), ErrorCode::bad_format, "/job/fault"},
      {"e-mail in the fault", "/job/fault", "ask ann@example.org", ErrorCode::privacy, "/job/fault"},
      {"telephone number in a lot", "/job/parts/0/lot", "+49 170 1234567", ErrorCode::privacy,
       "/job/parts/0/lot"},
      {"IMEI as a part", "/checks/0/findings/0/part", "490154203237518", ErrorCode::privacy,
       "/checks/0/findings/0/part"},
      {"serial number in a reason", "/checks/0/reason", "R58M12ABCDE9", ErrorCode::privacy,
       "/checks/0/reason"},
      {"line break", "/bench/name", "a\nb", ErrorCode::bad_format, "/bench/name"},
      {"whole serial as the tail", "/phone/tail", "ABCDEFGH7K2Q", ErrorCode::bad_format, "/phone/tail"},
      {"tag of another form", "/phone/tag", "R58M123456789012", ErrorCode::bad_format, "/phone/tag"},
      {"outcome of another program", "/outcome", "ok", ErrorCode::bad_format, "/outcome"},
      {"no such day", "/run/finished", "2026-02-30T09:00:00Z", ErrorCode::bad_format, "/run/finished"},
      {"negative uncertainty", "/checks/0/verdicts/0/u", -1, ErrorCode::bad_format, "/checks/0/verdicts/0/u"},
      {"half an observation", "/checks/0/verdicts/0/n", 1.5, ErrorCode::bad_format, "/checks/0/verdicts/0/n"},
      {"not a number", "/checks/0/plots/0/series/0/values/1", std::numeric_limits<double>::quiet_NaN(),
       ErrorCode::bad_format, "/checks/0/plots/0/series/0/values/1"},
      {"judged without a limit", "/checks/0/verdicts/1/outcome", "pass", ErrorCode::bad_format,
       "/checks/0/verdicts/1/outcome"},
      {"limit without a judgement", "/checks/0/verdicts/0/outcome", nullptr, ErrorCode::bad_format,
       "/checks/0/verdicts/0/outcome"},
      {"another schema", "/schema", "handback-record-2", ErrorCode::bad_format, "/schema"},
      {"a free key", "/checks/0/verdicts/0/key", "owner's name", ErrorCode::bad_format,
       "/checks/0/verdicts/0/key"},
  };
  for (const auto& row : rows) {
    auto j = to_json(small_record());
    const json::json_pointer p(row.pointer);
    if (row.value.is_discarded())
      j[p.parent_pointer()].erase(p.back());
    else
      j[p] = row.value;
    const auto r = validate(j);
    ASSERT_FALSE(r) << row.situation;
    EXPECT_EQ(r.error().code, row.code) << row.situation;
    EXPECT_EQ(r.error().where, row.where) << row.situation;
    if (row.value.is_string() && row.value.get<std::string>().size() > 3) {
      EXPECT_EQ(r.error().message().find(row.value.get<std::string>()), std::string::npos) << row.situation;
    }
  }
}

TEST(Record, WithoutACureTimeIsARecordTooAsTheFirstOnesWere) {
  auto r = small_record();
  r.job.cure_hours.reset();
  const auto j = to_json(r);
  EXPECT_FALSE(j["job"].contains("cure_hours"));
  EXPECT_TRUE(validate(j));
  const auto job = job_from_json(j["job"]);
  ASSERT_TRUE(job);
  EXPECT_FALSE(job->cure_hours);
}

Record following_record() {
  auto r = small_record();
  r.job.waivers = {{"cameras", "customer-declined"}};
  r.follows = Follows{"01JDGZ0000ABCDEFGHJKMNPQRT", {"hinge", "rear-cover"}};
  r.other_phone = "main-board-replaced";
  r.clock_back_s = 3600;
  r.taken["hinge_sweep"] = {r.run_id, "2026-11-25T09:10:00Z"};
  return r;
}

TEST(Record, WhatTiesARunToAnEarlierOneIsKeptAndTheFirstRecordsHadNoneOfIt) {
  const auto j = to_json(following_record());
  const auto valid = validate(j);
  ASSERT_TRUE(valid) << valid.error().message();
  EXPECT_EQ(j["run"]["follows"]["opened"], json({"hinge", "rear-cover"}));
  EXPECT_EQ(j["checks"][0]["taken"]["at"], "2026-11-25T09:10:00Z");
  const auto job = job_from_json(j["job"]);
  ASSERT_TRUE(job);
  EXPECT_EQ(to_json(*job), j["job"]);
  const auto old = to_json(small_record());
  for (const char* member : {"follows", "other_phone", "clock_back_s"})
    EXPECT_FALSE(old["run"].contains(member)) << member;
  for (const auto& [at, value] :
       std::vector<std::pair<const char*, json>>{{"/run/follows/opened/0", "owner's pocket"},
                                                 {"/run/follows/run", "R1"},
                                                 {"/run/other_phone", "because"},
                                                 {"/run/clock_back_s", -1},
                                                 {"/checks/0/taken/at", "yesterday"},
                                                 {"/job/waivers/0/reason", "no time"}}) {
    auto spoiled = j;
    spoiled[json::json_pointer(at)] = value;
    const auto r = validate(spoiled);
    ASSERT_FALSE(r) << at;
    EXPECT_EQ(r.error().where, at);
  }
}

TEST(Record, CarriedChecksStandInTheirPlaces) {
  const auto earlier = to_json(following_record())["checks"][0];
  auto r = small_record();
  auto second = r.checks[0], last = r.checks[0];
  second.id = "batteries", last.id = "cameras";
  r.checks = {second, last};
  r.carried[0] = earlier;
  const auto j = to_json(r);
  ASSERT_EQ(j["checks"].size(), 3u);
  EXPECT_EQ(j["checks"][0], earlier);
  EXPECT_EQ(j["checks"][1]["id"], "batteries");
  EXPECT_EQ(j["checks"][2]["id"], "cameras");
  EXPECT_TRUE(validate(j));
}

TEST(Record, ACoreCheckThatIsWaivedIsNotComplete) {
  using checks::Outcome;
  EXPECT_EQ(overall({{"touch_grid", Outcome::waived}, {"sound", Outcome::pass}}), Outcome::not_tested);
  EXPECT_EQ(overall({{"touch_grid", Outcome::pass}, {"sound", Outcome::waived}}), Outcome::waived);
  EXPECT_EQ(overall({{"cameras", Outcome::waived}, {"sound", Outcome::fail}}), Outcome::fail);
  EXPECT_EQ(overall({}), Outcome::not_tested);
}

TEST(Record, AStrayMembersNameIsNotRepeated) {
  auto j = to_json(small_record());
  j["ann@example.org"] = 1;
  const auto r = validate(j);
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().message().find("ann"), std::string::npos);
}

TEST(Utc, OneTextForASecond) {
  // 2000-02-29T12:34:56Z = 951827696, 2026-11-25T09:30:00Z = 1795599000 (date -u of GNU coreutils).
  EXPECT_EQ(utc_text(951827696), "2000-02-29T12:34:56Z");
  EXPECT_EQ(utc_seconds("2000-02-29T12:34:56Z").value_or(0), 951827696);
  EXPECT_EQ(utc_text(1795599000), "2026-11-25T09:30:00Z");
  for (const char* bad : {"", "2026-11-25", "2026-11-25T09:30:00", "2026-11-25T09:30:00+00:00",
                          "2026-13-01T00:00:00Z", "2025-02-29T00:00:00Z", "2026-11-25T24:00:00Z",
                          "2026-11-25t09:30:00z", "2026-11-25T09:30:60Z", "1969-12-31T23:59:59Z"})
    EXPECT_FALSE(utc_seconds(bad)) << bad;
}

}  // namespace
}  // namespace hb::record
