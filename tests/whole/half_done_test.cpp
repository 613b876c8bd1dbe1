// What was broken off is finished by the command that was printed, with nothing measured twice and nothing
// signed twice.
#include <sys/stat.h>

#include <csignal>
#include <filesystem>
#include <fstream>

#include "bench_day.hpp"
#include "tests/run/corrupt_journals.hpp"

namespace hb::test {
namespace {
namespace fs = std::filesystem;

struct HalfDone : testing::Test {
  TempFolder t;
  std::unique_ptr<BenchHome> bench = std::make_unique<BenchHome>(t / "home");
};

struct Break {
  const char* name;
  const char* mount;
};
class Sheets : public HalfDone, public testing::WithParamInterface<Break> {};

// A disk that was full, or a folder that could not be written, left a run that was in the ledger, had no
// sheet, and could not be resumed: "a run with this number is in the ledger already".
TEST_P(Sheets, ThatCannotBeWrittenAreWrittenByThePrintedCommand) {
  if (!may_mount(t.path())) GTEST_SKIP() << "this system lets nobody mount";
  const auto job = bench->job();
  Finished broken;
  {
    const PluggedIn phone({"--seed", "3"});
    broken = run_with_mount(GetParam().mount, t / "home/sheets",
                            bench->words + Words{"run", "--job", job} + phone.words());
  }                                         // the rest needs no phone
  EXPECT_EQ(broken.code, 4) << broken.err;  // paused: it can be gone on with
  const auto command = hint(broken.err);
  ASSERT_NE(command, "") << broken.err;
  EXPECT_TRUE(all_files(t / "home/sheets").empty());
  const auto again = paste(command);
  EXPECT_EQ(again.code, 0) << command << "\n" << again.err;
  EXPECT_EQ(all_files(t / "home/sheets").size(), 4u);
  for (const auto& [file, bytes] : all_files(t / "home/sheets")) EXPECT_NE(bytes, "") << file;
  const auto runs = bench->call({"--json", "run", "--list"}).json();
  ASSERT_EQ(runs.size(), 1u);
  EXPECT_EQ(runs[0]["finished"], true);
  EXPECT_EQ(bench->call({"ledger", "verify"}).code, 0);
}
INSTANTIATE_TEST_SUITE_P(
    HalfDone, Sheets,
    testing::Values(Break{"a_full_disk", "mount -t tmpfs -o size=64k none \"$0\""},
                    Break{"a_disk_full_at_once", "mount -t tmpfs -o size=4k,nr_inodes=1 none \"$0\""},
                    Break{"a_read_only_folder",
                          "mount --bind \"$0\" \"$0\" && mount -o remount,bind,ro \"$0\""}),
    [](const auto& i) { return std::string(i.param.name); });

// Where the journal could not be written "resume" was advised without a command.
TEST_F(HalfDone, AFullDiskUnderTheJournalLeavesARunThatThePrintedCommandFinishes) {
  if (!may_mount(t.path())) GTEST_SKIP() << "this system lets nobody mount";
  const auto job = bench->job();
  const PluggedIn phone({"--seed", "3"});
  // The journal alone is on the small disk, and what it holds is carried out of it.
  const auto broken = run_with_mount(
      "cp -r \"$0\" \"$0.kept\" && mount -t tmpfs -o size=24k none \"$0\"", t / "home/runs",
      Words{"sh", "-c", "\"$@\"; code=$?; cp \"$0\"/* \"$0.kept\"; exit $code", t / "home/runs"} +
          bench->words + Words{"run", "--job", job} + phone.words());
  EXPECT_EQ(broken.code, 2) << broken.err;
  fs::remove_all(t / "home/runs");
  fs::rename(t / "home/runs.kept", t / "home/runs");
  const auto command = hint(broken.err);
  ASSERT_NE(command, "") << broken.err;
  const auto again = paste(command);
  EXPECT_EQ(again.code, 0) << command << "\n" << again.err;
}

// Journals of these kinds threw out of the program, or overflowed its stack.
TEST_F(HalfDone, AJournalOfAnyContentIsRefusedInWordsByListAndResume) {
  bench->job();
  std::string good, id;
  {
    const PluggedIn phone({"--seed", "4", "--pull-after-packets", "900", "--back-after-ms", "3600000"});
    const auto paused = bench->call(Words{"run", "--wait", "1"} + phone.words());
    ASSERT_EQ(paused.code, 4) << paused.err;
  }
  for (const auto& e : fs::directory_iterator(t / "home/runs")) {
    good = slurp(e.path());
    id = e.path().stem();
  }
  const PluggedIn phone({"--seed", "4"});
  const auto file = fs::path(t / "home/runs") / (id + ".jsonl");
  int refused = 0;
  for (const auto& [name, bytes] : run::test::corrupt_journals(good)) {
    std::ofstream(file, std::ios::binary | std::ios::trunc) << bytes;
    const auto list = bench->call({"--json", "run", "--list"});
    EXPECT_EQ(list.code, 0) << name << list.err;
    ASSERT_EQ(list.json().size(), 1u) << name;
    const auto r = bench->call(Words{"run", "--resume", id} + phone.words());
    EXPECT_EQ(r.code, 2) << name << "\n" << r.err;
    EXPECT_NE(r.err.find("handback: "), std::string::npos) << name << "\n" << r.err;
    EXPECT_EQ(r.err.find("defect"), std::string::npos) << name << "\n" << r.err;
    ++refused;
  }
  EXPECT_GE(refused, 40);
}

std::string modes_wider_than_promised(const fs::path& home) {
  std::string out;
  const auto look = [&](const fs::path& p) {
    struct stat st {};
    if (::lstat(p.c_str(), &st) != 0 || S_ISLNK(st.st_mode)) return;
    const unsigned promised = S_ISDIR(st.st_mode) ? 0700 : 0600;
    if ((st.st_mode & 0777) != promised) out += p.string() + "\n";
  };
  look(home);
  for (const auto& e : fs::recursive_directory_iterator(home)) look(e.path());
  return out;
}

// Folders, ledger and sheets were made with whatever the umask left.
TEST_F(HalfDone, FilesAreTheirOwnersAloneWhateverTheUmask) {
  for (const char* mask : {"000", "022", "0177"}) {
    const auto home = t / (std::string("home-") + mask);
    const auto r = run({"sh", "-c", "umask \"$0\"; exec \"$@\"", mask, handback(), "--quiet", "demo",
                        "--model", "plank", "--out", home},
                       200);
    ASSERT_EQ(r.code, 0) << r.err;
    EXPECT_EQ(modes_wider_than_promised(home), "") << mask;
  }
}

TEST_F(HalfDone, AnOlderBenchThatOthersCouldReadIsClosedAndThatIsSaidOnce) {
  bench->job();
  const auto open_up = [&](const std::string& p, unsigned mode) {
    EXPECT_EQ(::chmod(p.c_str(), mode), 0) << p;
  };
  for (const char* d : {"", "/sheets", "/runs", "/keys"}) open_up(bench->home + d, 0755);
  open_up(bench->home + "/ledger.sqlite", 0644);
  const Words intake{"intake", "--fault", "screen-dark", "--repair", "display-swap", "--consent"};
  const auto first = bench->call(intake), second = bench->call(intake);
  EXPECT_NE(first.err.find("Others on this computer"), std::string::npos) << first.err;
  EXPECT_EQ(second.err, "");
  EXPECT_EQ(modes_wider_than_promised(bench->home), "");
}

// An exception's text was printed as it was, and nothing said what had become of the run.
TEST_F(HalfDone, NoExceptionEndsTheProgramWithoutAWord) {
  bench->job();
  const PluggedIn phone;
  const std::string loop = t / "loop";
  fs::create_symlink(loop, loop);
  for (const auto& words :
       {Words{"sh", "-c", "ulimit -n 5; exec \"$0\" \"$@\""} + bench->words + Words{"run"} + phone.words(),
        Words{handback(), "--home", loop, "run", "--device", phone.device}}) {
    const auto r = run(words, 60);
    EXPECT_EQ(r.code, 2) << words[2] << " " << r.code << "\n" << r.err;
    EXPECT_NE(r.err, "") << words[2];
    EXPECT_EQ(r.err.find("terminate called"), std::string::npos) << r.err;
  }
}
}  // namespace
}  // namespace hb::test
