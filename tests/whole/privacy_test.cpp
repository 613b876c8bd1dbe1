// Marked personal texts are planted in everything that the stand-in can say (287: 17 that it always says, and
// ten in each of twenty-seven places with --gossip). None may be found, in any form, in any byte that the
// program wrote, printed, served or sent: files with the ledger's write-ahead log, standard output and error
// of every command that reads them, and the wire to the phone (with the pages that are served over it) and to
// the fixture.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sqlite3.h>

#include <set>

#include "finder.hpp"
#include "harness/base/encoding.hpp"
#include "recorder.hpp"
#include "whole.hpp"

namespace hb::test {
namespace {

TEST(PrivacyFinder, FindsAPlantedTextInEveryForm) {
  const Canary planted{"planted", "Ann Canary <ann@example.org> +49 170 555", ""};
  const auto& t = planted.text;
  const Finder finder({planted});
  const auto found = [&](const std::string& bytes) { return !finder.find("x", bytes).empty(); };
  // Each made by other means than the finder's own.
  std::string utf16le, utf16be, upper_hex;
  for (const char c : t) {
    utf16le += c, utf16le += '\0';
    utf16be += '\0', utf16be += c;
    upper_hex += fmt::format("{:02X}", static_cast<unsigned char>(c));
  }
  std::vector<std::pair<std::string, std::string>> rows{
      {"itself", t},
      {"other case", "ANN CANARY <ANN@EXAMPLE.ORG> +49 170 555"},
      {"UTF-16LE", utf16le},
      {"UTF-16BE", utf16be},
      {"upper hexadecimal", upper_hex},
      {"percent-escaped", "Ann%20Canary%20%3Cann%40example%2Eorg%3E%20%2B49%20170%20555"},
      {"form-escaped", "Ann+Canary+%3Cann%40example.org%3E+%2B49+170+555"},
      {"path-escaped", "Ann%20Canary%20%3Cann@example.org%3E%20+49%20170%20555"}};
  for (const auto& [tool, name] :
       {std::pair("md5sum", "MD5"), {"sha1sum", "SHA-1"}, {"sha256sum", "SHA-256"}}) {
    const auto sum = run({tool}, 20, t).out;
    const auto digits = sum.substr(0, sum.find(' '));
    const auto octets = from_hex(digits).value();
    rows.emplace_back(std::string(name) + " hexadecimal", digits);
    rows.emplace_back(std::string(name) + " octets", std::string(as_text(octets)));
    rows.emplace_back(std::string(name) + " base64", base64(octets));
    rows.emplace_back(std::string(name) + " base64url", base64url(octets));
  }
  for (const char* before : {"", "x", "xy"})
    for (const char* after : {"", "z", "zz"}) {
      const auto text = before + t + after;
      rows.emplace_back(std::string("base64 behind ") + before, base64(as_bytes(text)));
      rows.emplace_back(std::string("base64url behind ") + before, base64url(as_bytes(text)));
    }
  for (const auto& [situation, bytes] : rows) EXPECT_TRUE(found("before " + bytes + " after")) << situation;
  EXPECT_FALSE(found("nothing here, Ann"));
  EXPECT_FALSE(found(""));
  const Finder numbers({{"phone", "+49 (170) 555-0123", ""}});
  EXPECT_FALSE(numbers.find("x", "tel 491705550123.").empty());
}

TEST(PrivacyFinder, LooksInsideSignedAndCompressedContents) {
  const Finder finder({{"planted", "Ann Canary of Lane 3", ""}});
  const auto jws = "eyJhbGciOiJFZERTQSJ9." +
                   base64url(as_bytes(std::string(30, ' ') + R"({"a":"Ann Canary of Lane 3"})")) + ".AA";
  EXPECT_FALSE(finder.find("x", opened_up("a.jws", jws)).empty());
}

TEST(Privacy, TheStandInKnowsTwoHundredPersonalTextsAndNoTwoAreAlike) {
  const auto all = canaries();
  EXPECT_GE(all.size(), 200u);
  std::set<std::string> texts, places;
  for (const auto& c : all) {
    texts.insert(c.text);
    if (!c.place.empty()) places.insert(c.place);
  }
  EXPECT_EQ(texts.size(), all.size());
  EXPECT_EQ(places.size(), 27u);
}

struct Situation {
  std::string name;
  std::vector<std::string> phone, run;
  int code;
  bool everything_said = false;  ///< the run listens in all places that any check asks
};
void PrintTo(const Situation& s, std::ostream* out) { *out << s.name; }

std::string hostile_banner() {
  std::string tail = ",\x1b[2J\x1b]0;Adelina Averbuck\x07%n%s%s\r\n\xff\xfe;persist.person=Adelina Averbuck;";
  for (int i = 0; i < 40; ++i) tail += "device::features=averbuck.adelina@post.example;=;;==;";
  return hex(as_bytes(tail));
}

/// Keeps the ledger's write-ahead log from being folded away before it was looked at.
class HeldOpen {
 public:
  explicit HeldOpen(const std::string& file) {
    if (sqlite3_open_v2(file.c_str(), &db_, SQLITE_OPEN_READONLY, nullptr) == SQLITE_OK)
      sqlite3_exec(db_, "BEGIN; SELECT count(*) FROM entry", nullptr, nullptr, nullptr);
  }
  ~HeldOpen() { sqlite3_close(db_); }
  HeldOpen(const HeldOpen&) = delete;
  HeldOpen& operator=(const HeldOpen&) = delete;

 private:
  sqlite3* db_ = nullptr;
};

class NoCanary : public testing::TestWithParam<Situation> {
 protected:
  TempFolder t_;
  std::vector<Canary> all_ = canaries();
  Finder finder_{all_};
  std::vector<std::string> hits_;

  void look(const std::string& where, std::string_view bytes) {
    for (auto& h : finder_.find(where, bytes)) hits_.push_back(std::move(h));
  }
  Finished call(std::vector<std::string> words) {
    words.insert(words.begin(), {handback(), "--home", t_ / "home"});
    auto r = run(words, 200);
    const auto name = fmt::format("{}", fmt::join(words.begin() + 3, words.end(), " "));
    look("output of " + name, r.out);
    look("errors of " + name, r.err);
    return r;
  }
  void look_at_files(bool published) {
    std::size_t files = 0;
    bool log = false;
    for (const auto& [file, bytes] : all_files(t_.path())) {
      ++files;
      log = log || (file.string().ends_with("-wal") && !bytes.empty());
      look(file.string(), opened_up(file.string(), bytes));
    }
    EXPECT_GE(files, published ? 8u : 6u);
    EXPECT_TRUE(log || !published) << "the write-ahead log was not there to be looked at";
  }
};

TEST_P(NoCanary, IsInAnyByteThatWasWrittenPrintedServedOrSent) {
  const auto& s = GetParam();
  ASSERT_GE(all_.size(), 200u);
  ASSERT_EQ(call({"bench", "init", "--shop", "S", "--contact", "3 Tarn Street"}).code, 0);
  ASSERT_EQ(call({"intake", "--fault", "screen-dark", "--repair", "swap", "--consent"}).code, 0);
  const HeldOpen ledger(t_ / "home/ledger.sqlite");

  std::vector<std::string> words{standin(), "--port",  "0",       "--jig-port",
                                 "0",       "--clock", "stepped", "--gossip"};
  words.insert(words.end(), s.phone.begin(), s.phone.end());
  const Background phone(words);
  const auto ports = nlohmann::json::parse(phone.first_line(), nullptr, false);
  ASSERT_TRUE(ports.is_object()) << phone.first_line();
  Recorder link(ports["port"].get<std::uint16_t>()), jig(ports["jig_port"].get<std::uint16_t>());
  words = {"run", "--device", fmt::format("tcp:127.0.0.1:{}", link.port()), "--fixture",
           fmt::format("tcp:127.0.0.1:{}", jig.port())};
  words.insert(words.end(), s.run.begin(), s.run.end());
  const auto r = call(words);
  ASSERT_EQ(r.code, s.code) << r.out << r.err;

  look("what the bench sent to the phone", link.sent());
  look("what the bench sent to the fixture", jig.sent());
  const bool published = s.code == 0 || s.code == 1;
  if (published) {
    EXPECT_GT(link.sent().size(), 10'000u);
  }
  if (s.everything_said) {
    EXPECT_NE(link.sent().find("<!doctype html"), std::string::npos) << "no page was served over the wire";
    const auto heard = link.came_back() + jig.came_back();
    for (const auto& c : all_)
      if (!c.place.empty() && c.place != "display_size" && c.place != "usb") {  // no check asks for these
        EXPECT_FALSE(Finder({c}).find("", heard).empty()) << c.name << " was never said: nothing was tried";
      }
  }
  for (const auto& more : std::vector<std::vector<std::string>>{{"run", "--list"},
                                                                {"ledger", "list"},
                                                                {"ledger", "export"},
                                                                {"ledger", "verify"},
                                                                {"comebacks"},
                                                                {"phones"},
                                                                {"bench"}})
    call(more);
  look_at_files(published);
  EXPECT_TRUE(hits_.empty()) << fmt::format("{}", fmt::join(hits_, "\n"));
}
INSTANTIATE_TEST_SUITE_P(
    Runs, NoCanary,
    testing::Values(
        Situation{"AWholeRun", {"--model", "petal"}, {}, 0, true},
        Situation{"AFailingRun",
                  {"--model", "petal", "--fault", "second-pack-unplugged", "--fault", "camera-flex-unseated",
                   "--seed", "5"},
                  {},
                  1},
        Situation{"APausedRun",
                  {"--model", "plank", "--pull-after-packets", "900", "--back-after-ms", "3600000"},
                  {"--wait", "1"},
                  4},
        Situation{"AHostileBanner", {"--model", "plank", "--banner-tail", hostile_banner()}, {}, 0},
        Situation{"NoProfileFits",
                  {"--model", "plank"},
                  {"--profile", std::string(HB_SOURCE_DIR) + "/profiles/models/petal.toml"},
                  2}),
    [](const auto& p) { return p.param.name; });
}  // namespace
}  // namespace hb::test
