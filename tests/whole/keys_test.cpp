// A shop with a root: sheets checked by the root alone, keys changed, a key stolen, passphrases.
#include <gtest/gtest.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#include <fstream>
#include <optional>

#include "whole.hpp"

namespace hb::test {
namespace {
namespace fs = std::filesystem;

struct Shop : testing::Test {
  TempFolder t;
  std::string home = t / "home";

  Finished at(const std::string& folder, std::vector<std::string> words, const std::string& input = "") {
    words.insert(words.begin(), {"setsid", "-w", handback(), "--json", "--home", folder});
    return run(words, 100, input);
  }
  Finished call(std::vector<std::string> words) { return at(home, std::move(words)); }
  nlohmann::json measured(const std::string& folder) {
    const auto r = demo(folder, {"--model", "plank"});
    EXPECT_EQ(r.code, 0) << r.err;
    return r.json();
  }
  /// A customer: no folder of this shop, only files that were handed out.
  std::string status(const nlohmann::json& files, const char* what, std::vector<std::string> more) {
    more.insert(more.begin(), {"verify", files[what].get<std::string>()});
    const auto r = at(t / "customer", more);
    const auto s = r.json().value("status", "no answer: " + r.err);
    EXPECT_EQ(r.code, s == "authentic" ? 0 : s == "revoked key" ? 3 : s == "altered" ? 1 : 5) << r.out;
    return s;
  }
  /// The bench's copy of its one root's list.
  static std::string list_in(const std::string& folder) {
    for (const auto& [f, bytes] : all_files(folder + "/keys/revoked"))
      if (f.extension() == ".jwt") return f.string();
    return "no list";
  }
  static std::string key_id(char fill) { return std::string(42, fill) + "A"; }  // 32 octets in base64url
  std::string make_root() {
    const auto r = call({"bench", "root", "create"});
    EXPECT_EQ(r.code, 0) << r.err;
    return r.json()["public"];
  }
};

TEST_F(Shop, TheRootsPublicKeyAloneChecksEverySheet) {
  const auto root = make_root();
  const auto certified = call({"bench", "root", "certify", "--label", "bench 1"});
  ASSERT_EQ(certified.code, 0) << certified.err;
  const auto files = measured(home);
  for (const char* what : {"sheet_html", "sheet_pdf"}) {
    EXPECT_EQ(status(files, what, {"--root", root}), "authentic") << what;
    EXPECT_EQ(status(files, what, {}), "unknown key") << what;
  }
  const auto beside = fs::path(files["record"].get<std::string>()).parent_path() / "certificates.jwt";
  EXPECT_EQ(status(files, "record", {"--root", root}), "unknown key");
  EXPECT_EQ(status(files, "record", {"--root", root, "--certificate", beside.string()}), "authentic");

  const auto elsewhere = at(t / "other", {"bench", "root", "create"}).json();
  EXPECT_EQ(status(files, "sheet_html", {"--root", elsewhere["public"]}), "unknown key");

  const std::string dir = std::string(HB_SOURCE_DIR) + "/tests/reports/jose";
  if (!have("node") || !fs::exists(dir + "/node_modules/jose"))
    GTEST_SKIP() << "node or jose is not installed";
  const std::vector<std::string> peer{"node", dir + "/certificate.mjs", certified.json()["certificate"]};
  auto with = [&](std::string root_file) {
    auto words = peer;
    words.insert(words.end(), {std::move(root_file), files["record"]});
    return run(words);
  };
  const auto good = with(root);
  EXPECT_EQ(good.code, 0) << good.err;
  EXPECT_EQ(good.json()["schema"], "handback-record-1");
  EXPECT_NE(with(elsewhere["public"]).code, 0);
}

TEST_F(Shop, ChangedKeysAndAChangedRootLeaveOldSheetsGood) {
  const auto root = make_root();
  ASSERT_EQ(call({"bench", "root", "certify", "--label", "bench 1"}).code, 0);
  const auto first = measured(home);
  const auto rotated = call({"bench", "key", "rotate"});
  ASSERT_EQ(rotated.code, 0) << rotated.err;
  EXPECT_NE(rotated.json()["certificate"], "");
  const auto second = measured(home);
  for (const auto& files : {first, second})
    EXPECT_EQ(status(files, "sheet_pdf", {"--root", root}), "authentic");
  EXPECT_EQ(call({"verify", first["sheet_pdf"]}).json()["status"], "authentic");
  EXPECT_EQ(call({"ledger", "verify"}).code, 0);

  const auto again = call({"sheet", first["run"], "--out", t / "again"});  // sealed with the new key
  ASSERT_EQ(again.code, 0) << again.err;
  EXPECT_EQ(status(again.json(), "sheet_html", {"--root", root}), "authentic");

  const auto changed = call({"bench", "root", "rotate"});
  ASSERT_EQ(changed.code, 0) << changed.err;
  EXPECT_EQ(changed.json()["certified_again"], 2);
  const std::string next = changed.json()["public"];
  const auto third = measured(home);
  EXPECT_EQ(status(third, "sheet_html", {"--root", root}), "authentic");
  EXPECT_EQ(status(third, "sheet_html", {"--root", next}), "authentic");
  EXPECT_EQ(status(first, "sheet_html", {"--root", root}), "authentic");
  EXPECT_EQ(status(first, "sheet_html", {"--root", next}), "unknown key");
  const auto beside = fs::path(third["record"].get<std::string>()).parent_path() / "certificates.jwt";
  EXPECT_EQ(status(second, "sheet_html", {"--root", next, "--certificate", beside.string()}), "authentic");
}

TEST_F(Shop, AStolenKeyIsRevokedAndTheLedgerTellsForgedDates) {
  const auto root = make_root();
  ASSERT_EQ(call({"bench", "root", "certify"}).code, 0);
  const auto good = measured(home);
  fs::create_directories(t / "thief");
  fs::copy(home + "/keys", t / "thief/keys", fs::copy_options::recursive);
  const auto forged = measured(t / "thief");
  ASSERT_EQ(status(forged, "sheet_html", {"--root", root}), "authentic");

  const std::string kid = call({"bench"}).json()["key_id"];
  EXPECT_EQ(call({"bench", "root", "revoke", "not-a-key"}).code, 2);
  ASSERT_EQ(call({"bench", "root", "revoke", kid, "--since", "2020-01-01T00:00:00Z"}).code, 0);
  const auto list = call({"bench", "root", "show"}).json();
  ASSERT_EQ(list["revoked"].size(), 1u) << list;
  const auto file = list_in(home);
  for (const char* what : {"sheet_html", "sheet_pdf"})
    EXPECT_EQ(status(good, what, {"--root", root, "--revoked", file}), "revoked key");
  EXPECT_EQ(status(good, "sheet_html", {"--root", root}), "authentic") << "who has no list knows nothing";

  // A list that says: revoked later than both runs. Dates say good of both. What was known before is known no
  // more when the whole memory of it is taken away; the list alone would not do.
  fs::remove(file);
  for (const auto& [f, bytes] : all_files(home + "/keys"))
    if (f.string().find("revoked") != std::string::npos) fs::remove(f);
  ASSERT_EQ(call({"bench", "root", "revoke", kid, "--since", "2099-01-01T00:00:00Z"}).code, 0);
  for (const auto& f : {good, forged}) {
    const auto r = at(t / "customer", {"verify", f["sheet_pdf"], "--root", root, "--revoked", file});
    EXPECT_EQ(r.json()["status"], "authentic");
    EXPECT_NE(r.json()["says"].get<std::string>().find("ask the shop"), std::string::npos) << r.out;
  }
  const auto ours = call({"verify", good["sheet_pdf"]});
  EXPECT_EQ(ours.json()["status"], "authentic");
  EXPECT_NE(ours.json()["says"].get<std::string>().find("entry 2 of the ledger"), std::string::npos);
  const auto theirs = call({"verify", forged["sheet_pdf"]});
  EXPECT_EQ(theirs.json()["status"], "revoked key") << theirs.out;
  EXPECT_EQ(theirs.json()["answer"], "superseded_or_withdrawn");
  EXPECT_EQ(theirs.code, 3);
}

// Two homes with one root on a stick each wrote a list 1; the second replaced the first, and a stolen key was
// trusted again.
TEST_F(Shop, TwoBenchesWithOneRootOnAStickLoseNoRevocation) {
  const auto stick = t / "stick";
  fs::create_directories(stick);
  const auto root_key = stick + "/root.jwk", two = t / "two";
  const auto made = call({"bench", "root", "create", "--root-key", root_key});
  ASSERT_EQ(made.code, 0) << made.err;
  ASSERT_EQ(at(two, {"bench", "root", "accept", made.json()["public"]}).code, 0);
  const auto one = call({"bench", "root", "revoke", key_id('A'), "--root-key", root_key});
  ASSERT_EQ(one.code, 0) << one.err;
  const auto other = at(two, {"bench", "root", "revoke", key_id('Q'), "--root-key", root_key});
  ASSERT_EQ(other.code, 0) << other.err;
  EXPECT_GT(other.json()["number"], one.json()["number"]);
  const auto known = [&](const std::string& folder) {
    return at(folder, {"bench", "root", "show"}).json()["revoked"];
  };
  EXPECT_EQ(known(two).size(), 2U) << known(two);
  // Another date for a key that is revoked already: the earlier one counts.
  const auto later = at(two, {"bench", "root", "revoke", key_id('A'), "--since", "2099-01-01T00:00:00Z",
                              "--root-key", root_key});
  EXPECT_EQ(later.json()["since"], one.json()["since"]);
  // The newer list is taken in by the first bench; its own older one is not taken in by the second.
  fs::copy(list_in(home), t / "old.jwt");
  ASSERT_EQ(call({"bench", "root", "accept", list_in(two)}).code, 0);
  EXPECT_EQ(known(home).size(), 2U);
  const auto older = at(two, {"bench", "root", "accept", t / "old.jwt"});
  EXPECT_EQ(older.code, 2);
  EXPECT_NE(older.err.find(key_id('Q')), std::string::npos) << older.err;
  EXPECT_EQ(known(two).size(), 2U);
}

TEST_F(Shop, TwoListsThatGrewApartAreMergedWhenTheyMeet) {
  const auto root = make_root();
  const auto two = t / "two";
  fs::create_directories(two + "/keys");
  fs::copy(home + "/keys", two + "/keys", fs::copy_options::recursive | fs::copy_options::overwrite_existing);
  ASSERT_EQ(call({"bench", "root", "revoke", key_id('A')}).json()["number"], 2);
  ASSERT_EQ(at(two, {"bench", "root", "revoke", key_id('Q')}).json()["number"], 2);
  const auto met = call({"bench", "root", "accept", list_in(two)});
  ASSERT_EQ(met.code, 0) << met.err;
  EXPECT_NE(met.out.find(key_id('A')), std::string::npos)
      << "what the other list lacks is named: " << met.out;
  EXPECT_EQ(call({"bench", "root", "show"}).json()["revoked"].size(), 2U);
  const auto merged = call({"bench", "root", "merge", list_in(two)});
  ASSERT_EQ(merged.code, 0) << merged.err;
  EXPECT_EQ(merged.json()["number"], 3);
  EXPECT_EQ(merged.json()["revoked"].size(), 2U);
  ASSERT_EQ(at(two, {"bench", "root", "accept", list_in(home)}).code, 0);
  EXPECT_EQ(at(two, {"bench", "root", "show"}).json()["revoked"].size(), 2U);
}

// A damaged, empty or missing list lifted its revocations without a word, and let an older list in.
TEST_F(Shop, WithoutItsRootsListNothingIsAuthenticAndTheHintMendsIt) {
  const auto root = make_root();
  ASSERT_EQ(call({"bench", "root", "certify"}).code, 0);
  const auto files = measured(home);
  fs::copy(list_in(home), t / "older.jwt");
  ASSERT_EQ(call({"bench", "root", "revoke", key_id('A')}).code, 0);
  const auto list = list_in(home), good = slurp(list);
  const auto answer = [&] { return call({"verify", files["sheet_pdf"]}); };
  ASSERT_EQ(answer().json()["answer"], "authentic") << answer().out;
  auto flipped = good;
  flipped[flipped.size() / 2] ^= 1;
  const struct {
    const char *situation, *why;
    std::optional<std::string> content;
  } rows[] = {{"missing", "list_missing", std::nullopt},
              {"empty", "list_damaged", ""},
              {"a byte changed", "list_damaged", flipped},
              {"cut", "list_damaged", good.substr(0, good.size() / 2)},
              {"an older one copied over it", "list_damaged", slurp(t / "older.jwt")}};
  for (const auto& row : rows) {
    fs::remove(list);
    if (row.content) std::ofstream(list, std::ios::binary) << *row.content;
    const auto r = answer();
    EXPECT_EQ(r.code, 5) << row.situation << r.out;
    EXPECT_EQ(r.json()["answer"], "cannot_tell") << row.situation;
    EXPECT_EQ(r.json()["why"], row.why) << row.situation;
    EXPECT_EQ(call({"bench", "root", "accept", t / "older.jwt"}).code, 2)
        << row.situation << ": an older list came in";
    EXPECT_EQ(answer().code, 5) << row.situation;
    EXPECT_EQ(r.json()["next"], "handback bench root merge") << row.situation;
    ASSERT_EQ(call({"bench", "root", "merge"}).code, 0) << row.situation;
    EXPECT_EQ(answer().code, 0) << row.situation;
    EXPECT_EQ(call({"bench", "root", "show"}).json()["revoked"].size(), 1U) << row.situation;
  }

  // A bench that has no root's key is told to fetch the list.
  const auto two = t / "two";
  ASSERT_EQ(at(two, {"bench", "root", "accept", root}).code, 0);
  const auto there = [&] { return at(two, {"verify", files["sheet_html"]}); };
  EXPECT_EQ(there().json()["why"], "list_missing") << there().out;
  EXPECT_NE(there().json()["next"].get<std::string>().find("handback bench root accept"), std::string::npos);
  ASSERT_EQ(at(two, {"bench", "root", "accept", list}).code, 0);
  EXPECT_EQ(there().code, 0) << there().out;
  std::ofstream(list_in(two), std::ios::binary) << "damaged";
  fs::remove(list_in(two) + ".known");
  EXPECT_EQ(at(two, {"bench", "root", "accept", t / "older.jwt"}).code, 2)
      << "nothing tells what the damaged one held";
  ASSERT_EQ(call({"bench", "root", "merge"}).code, 0);
  EXPECT_EQ(at(two, {"bench", "root", "accept", list}).code, 0)
      << "issued after the damage: newer than what was there";
  EXPECT_EQ(there().code, 0) << there().out;

  // A customer's own file.
  std::ofstream(t / "empty.jwt") << "";
  const auto given =
      at(t / "customer", {"verify", "--root", root, "--revoked", t / "empty.jwt", files["sheet_pdf"]});
  EXPECT_EQ(given.json()["why"], "list_damaged") << given.out << given.err;
}

// --root took the file for a second root.
TEST_F(Shop, OptionsOfVerifyStandBeforeOrBehindTheFileAndRepeat) {
  const auto root = make_root();
  ASSERT_EQ(call({"bench", "root", "certify"}).code, 0);
  const auto files = measured(home);
  const auto other = at(t / "other", {"bench", "root", "create"}).json()["public"].get<std::string>();
  const std::string sheet = files["sheet_pdf"], list = list_in(home);
  for (const auto& words :
       std::vector<std::vector<std::string>>{{"verify", "--root", root, sheet},
                                             {"verify", sheet, "--root", root},
                                             {"verify", "--root", other, "--root", root, sheet},
                                             {"verify", "--root", root, sheet, "--root", other},
                                             {"verify", "--revoked", list, "--root", root, sheet},
                                             {"verify", "--root=" + root, sheet}}) {
    const auto r = at(t / "customer", words);
    EXPECT_EQ(r.json()["answer"], "authentic") << words[1] << words[2] << r.out << r.err;
  }
  const auto said = run({handback(), "verify", "--explain"});
  EXPECT_EQ(said.code, 0);
  EXPECT_NE(said.out.find("cannot tell (5)"), std::string::npos) << said.out;
}

// --protect on what was there already did nothing, and said that it was done.
TEST_F(Shop, ProtectingWhatIsThereAlreadyProtectsItOrSaysHow) {
  const auto is_protected = [](const std::string& file) { return slurp(file).starts_with("HBKEY"); };
  const auto bench_key = home + "/keys/bench-sign.jwk", root_key = home + "/keys/root.jwk";
  std::vector<std::string> init{"bench", "init", "--shop", "S", "--contact", "3 Tarn Street"};
  ASSERT_EQ(at(home, init).code, 0);
  const std::string kid = call({"bench"}).json()["key_id"];
  init.insert(init.end(), {"--protect", "--passphrase-fd", "0"});
  ASSERT_EQ(at(home, init, "grey stone\n").code, 0);
  EXPECT_TRUE(is_protected(bench_key));
  EXPECT_EQ(at(home, {"bench", "--passphrase-fd", "0"}, "grey stone\n").json()["key_id"], kid);

  make_root();
  const auto again =
      at(home, {"bench", "root", "create", "--protect", "--passphrase-fd", "0"}, "grey stone\n");
  EXPECT_EQ(again.code, 2);
  EXPECT_NE(again.err.find("handback bench root protect"), std::string::npos) << again.err;
  EXPECT_FALSE(is_protected(root_key));
  ASSERT_EQ(at(home, {"bench", "root", "protect", "--passphrase-fd", "0"}, "grey stone\n").code, 0);
  EXPECT_TRUE(is_protected(root_key));
}

TEST_F(Shop, AStolenRootLeavesNoBridge) {
  const auto root = make_root();
  ASSERT_EQ(call({"bench", "root", "certify"}).code, 0);
  const auto changed = call({"bench", "root", "rotate", "--stolen", "--since", "2020-01-01T00:00:00Z"});
  ASSERT_EQ(changed.code, 0) << changed.err;
  const std::string next = changed.json()["public"];
  const auto files = measured(home);
  EXPECT_EQ(status(files, "sheet_html", {"--root", next}), "authentic");
  const auto list = home + "/keys/revoked/" + changed.json()["key_id"].get<std::string>() + ".jwt";
  // The thief certifies a bench of his own with the stolen root.
  fs::create_directories(t / "thief");
  const auto stolen = changed.json()["old_private"].get<std::string>();
  ASSERT_EQ(at(t / "thief", {"bench", "root", "certify", "--label", "x", "--root-key", stolen}).code, 0);
  fs::copy(root, t / "thief/keys/roots");
  const auto forged = measured(t / "thief");
  EXPECT_EQ(status(forged, "sheet_html", {"--root", root}), "authentic") << "the old root's word, unwarned";
  EXPECT_EQ(status(forged, "sheet_html", {"--root", next}), "unknown key");
  EXPECT_EQ(status(forged, "sheet_html", {"--root", next, "--root", root, "--revoked", list}), "unknown key");
}

TEST_F(Shop, AnotherBenchTakesItsCertificateIn) {
  const auto root = make_root();
  const auto two = t / "two";
  const auto pub = at(two, {"bench", "key", "export"});
  ASSERT_EQ(pub.code, 0);
  std::ofstream(t / "two.jwk") << pub.out;
  ASSERT_EQ(
      call({"bench", "root", "certify", t / "two.jwk", "--label", "bench 2", "--out", t / "two.jwt"}).code,
      0);
  EXPECT_EQ(at(two, {"bench", "root", "accept", t / "two.jwt"}).code, 2) << "the root is not known there";
  ASSERT_EQ(at(two, {"bench", "root", "accept", root}).code, 0);
  ASSERT_EQ(at(two, {"bench", "root", "accept", t / "two.jwt"}).code, 0);
  const auto files = measured(two);
  EXPECT_EQ(status(files, "sheet_pdf", {"--root", root}), "authentic");
}

TEST_F(Shop, APassphraseIsNeededAndAWrongOneIsSaid) {
  const std::vector<std::string> init{"bench",         "init",      "--shop",          "S", "--contact",
                                      "3 Tarn Street", "--protect", "--passphrase-fd", "0"};
  ASSERT_EQ(at(home, init, "open sesame\nopen sesame\n").code, 0);
  EXPECT_TRUE(slurp(home + "/keys/bench-sign.jwk").starts_with("HBKEY"));
  const std::vector<std::string> intake{"intake", "--fault", "screen-dark", "--repair", "swap"};
  auto by_fd = intake;
  by_fd.insert(by_fd.end(), {"--passphrase-fd", "0"});
  EXPECT_EQ(at(home, by_fd, "open sesame\n").code, 0);
  const auto wrong = at(home, by_fd, "open seasame\n");
  EXPECT_EQ(wrong.code, 2);
  EXPECT_NE(wrong.err.find("the passphrase is wrong"), std::string::npos) << wrong.err;
  EXPECT_EQ(wrong.err.find("seasame"), std::string::npos);
  const auto none = at(home, intake);
  EXPECT_EQ(none.code, 2);
  EXPECT_NE(none.err.find("--passphrase-fd"), std::string::npos) << none.err;

  // Backup, loss, restore: the same key again.
  const std::string kid = at(home, {"bench", "--passphrase-fd", "0"}, "open sesame\n").json()["key_id"];
  ASSERT_EQ(
      at(home,
         {"bench", "key", "export", "--private", "--protect", "--out", t / "backup", "--passphrase-fd", "0"},
         "open sesame\nother words\n")
          .code,
      0);
  fs::remove(home + "/keys/bench-sign.jwk");
  EXPECT_EQ(at(home, {"bench", "key", "import", t / "backup", "--passphrase-fd", "0"},
               "open sesame\nnew words\nnew words\n")
                .code,
            2);
  const auto restored = at(home, {"bench", "key", "import", t / "backup", "--passphrase-fd", "0"},
                           "other words\nnew words\nnew words\n");
  ASSERT_EQ(restored.code, 0) << restored.err;
  EXPECT_EQ(restored.json()["key_id"], kid);
  ASSERT_EQ(at(home, {"bench", "key", "unprotect", "--passphrase-fd", "0"}, "new words\n").code, 0);
  EXPECT_EQ(at(home, intake).code, 0);
  ASSERT_EQ(at(home, {"bench", "key", "protect", "--passphrase-fd", "0"}, "third\n").code, 0);
  EXPECT_EQ(at(home, intake).code, 2);
}

TEST_F(Shop, TheBenchSaysWhetherItsKeyIsCertified) {
  const auto said = [&] { return run({handback(), "--home", home, "bench"}).out; };
  ASSERT_EQ(call({"bench", "init", "--shop", "S", "--contact", "3 Tarn Street"}).code, 0);
  EXPECT_NE(said().find("no root"), std::string::npos) << said();
  make_root();
  EXPECT_NE(said().find("MISSING"), std::string::npos) << said();
  ASSERT_EQ(call({"bench", "root", "certify", "--from", "2020-01-01T00:00:00Z", "--days", "1"}).code, 0);
  EXPECT_NE(said().find("ENDED 2020-01-02T00:00:00Z"), std::string::npos) << said();
  const auto warned = [&] {
    return run({handback(), "--home", home, "demo", "--out", home, "--model", "plank"}, 100).err;
  };
  EXPECT_NE(warned().find("cannot check this run's sheet"), std::string::npos);
  ASSERT_EQ(call({"bench", "root", "certify", "--from", "2020-01-01T00:00:00Z", "--days", "36500"}).code, 0);
  EXPECT_NE(said().find("until 2119-"), std::string::npos) << said();
  EXPECT_EQ(warned().find("certificate"), std::string::npos);
}

TEST_F(Shop, AKeyFileFromElsewhereIsUsedAndMustBeTheOwnersAlone) {
  ASSERT_EQ(call({"bench", "init", "--shop", "S", "--contact", "3 Tarn Street"}).code, 0);
  const std::string kid = call({"bench"}).json()["key_id"];
  fs::rename(home + "/keys/bench-sign.jwk", t / "credential");
  EXPECT_EQ(call({"--key", t / "credential", "bench"}).json()["key_id"], kid);
  EXPECT_EQ(call({"bench", "--key", t / "credential"}).json()["key_id"], kid);
  EXPECT_FALSE(fs::exists(home + "/keys/bench-sign.jwk"));
  fs::permissions(t / "credential", fs::perms::group_read, fs::perm_options::add);
  const auto open_to_group = call({"bench", "--key", t / "credential"});
  EXPECT_EQ(open_to_group.code, 2);
  EXPECT_NE(open_to_group.err.find("can be read by others"), std::string::npos);
  EXPECT_EQ(call({"bench", "--key", t / "nowhere"}).code, 2);
}

/// Runs the words at a terminal of their own and types `lines`, each after a prompt.
Finished typed(std::vector<std::string> words, const std::vector<std::string>& lines) {
  std::vector<char*> argv;
  for (auto& w : words) argv.push_back(w.data());
  argv.push_back(nullptr);
  int tty = -1;
  const pid_t pid = ::forkpty(&tty, nullptr, nullptr, nullptr);
  if (pid == 0) {
    ::execvp(argv[0], argv.data());
    ::_exit(127);
  }
  Finished f;
  std::size_t next = 0, seen = 0;
  char chunk[4096];
  for (ssize_t n = 0; (n = ::read(tty, chunk, sizeof chunk)) > 0;) {
    f.out.append(chunk, static_cast<std::size_t>(n));
    if (next < lines.size() && f.out.find(": ", seen) != std::string::npos && f.out.ends_with(": ")) {
      seen = f.out.size();
      const auto line = lines[next++] + "\r";
      if (::write(tty, line.data(), line.size()) < 0) break;
    }
  }
  int state = 0;
  ::waitpid(pid, &state, 0);
  ::close(tty);
  f.code = WIFEXITED(state) ? WEXITSTATUS(state) : -1;
  return f;
}

TEST_F(Shop, AtTheTerminalAPassphraseIsAskedForAndNotShown) {
  const std::vector<std::string> init{handback(), "--home", home,        "bench",         "init",
                                      "--shop",   "S",      "--contact", "3 Tarn Street", "--protect"};
  const auto differ = typed(init, {"one secret", "another secret"});
  EXPECT_EQ(differ.code, 2);
  EXPECT_NE(differ.out.find("differ"), std::string::npos) << differ.out;
  const auto made = typed(init, {"grXXX\x7f\x7f\x7f\xc3\xbc\x7f"
                                 "een stone",
                                 "green stone", "green stone"});
  EXPECT_EQ(made.code, 0) << made.out;
  EXPECT_EQ(made.out.find("stone"), std::string::npos) << made.out;
  EXPECT_EQ(at(home, {"bench", "--passphrase-fd", "0"}, "green stone\n").code, 0);
  const auto stopped = typed({handback(), "--home", home, "bench"}, {"\x03"});
  EXPECT_EQ(stopped.code, 2);
}
}  // namespace
}  // namespace hb::test
