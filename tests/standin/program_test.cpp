// The program itself: lists, refusals, its first line, and that it ends with whoever started it.
#include <gtest/gtest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <nlohmann/json.hpp>
#include <string>

namespace {
struct Ended {
  int code = -1;
  std::string out;
};
Ended run(const std::string& arguments) {
  const std::string command = std::string(HB_BINARY_DIR "/bin/standin ") + arguments + " 2>&1";
  FILE* pipe = ::popen(command.c_str(), "r");
  Ended e;
  std::array<char, 4096> chunk{};
  for (std::size_t n; (n = std::fread(chunk.data(), 1, chunk.size(), pipe)) > 0;)
    e.out.append(chunk.data(), n);
  const int status = ::pclose(pipe);
  e.code = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return e;
}

TEST(Program, ListsItsFaultsWithTheCheckAndFindingExpected) {
  const auto e = run("--list-faults --json");
  ASSERT_EQ(e.code, 0);
  const auto all = nlohmann::json::parse(e.out);
  EXPECT_GE(all.size(), 44u);
  for (const auto& f : all) {
    EXPECT_EQ(f["kind"] == "condition", f["finding"] == "") << f;
    EXPECT_FALSE(f["models"].empty()) << f;
    EXPECT_FALSE(f["meaning"].get<std::string>().empty()) << f;
  }
}

TEST(Program, RefusesWhatItDoesNotKnow) {
  for (const char* bad :
       {"--fault coil-misplacd", "--fault pack-aged:7", "--model plank --fault hinge-flex-loose",
        "--clock sundial", "--model brick", "--no-such-option"}) {
    const auto e = run(bad);
    EXPECT_EQ(e.code, 2) << bad;
    EXPECT_FALSE(e.out.empty()) << bad;
  }
  EXPECT_NE(run("--fault coil-misplacd").out.find("coil-misplaced"), std::string::npos);
}

TEST(Program, SaysItsPortsAtOnceAndEndsWhenItsParentIsGone) {
  const auto e = run("--model plank --browser none --exit-with-parent </dev/null");
  EXPECT_EQ(e.code, 0);
  const auto j = nlohmann::json::parse(e.out);
  EXPECT_EQ(j["model"], "plank");
  EXPECT_GT(j["port"].get<int>(), 0);
  EXPECT_GT(j["jig_port"].get<int>(), 0);
}

TEST(Program, TellsItsCanariesAndItsVersion) {
  EXPECT_EQ(nlohmann::json::parse(run("--print-canaries --json").out).size(), 287u);
  EXPECT_EQ(run("--version").code, 0);
}
}  // namespace
