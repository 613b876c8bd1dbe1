// `handback phones` and a whole run on an emulated bus: the programs themselves, told apart by nothing but
// the preload library.
#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/wait.h>
#include <unistd.h>

#include <regex>

#include "harness/link/link.hpp"
#include "tests/link/usb/mock_bus.hpp"
#include "tests/support/process.hpp"

namespace hb::test {
namespace {
using nlohmann::json;
const std::string kBin = std::string(HB_BINARY_DIR) + "/bin/";

/// A program whose lines are read as they come; it is interrupted with the object.
class Lines {
 public:
  explicit Lines(std::vector<std::string> words) {
    int ends[2];
    if (::pipe2(ends, O_CLOEXEC) != 0) throw std::runtime_error("no pipe");
    std::vector<char*> argv;
    for (auto& w : words) argv.push_back(w.data());
    argv.push_back(nullptr);
    pid_ = ::fork();
    if (pid_ == 0) {
      ::dup2(ends[1], STDOUT_FILENO);
      ::alarm(90);
      ::execv(argv[0], argv.data());
      ::_exit(127);
    }
    ::close(ends[1]);
    out_ = ::fdopen(ends[0], "r");
  }
  Lines(const Lines&) = delete;
  Lines& operator=(const Lines&) = delete;
  ~Lines() { static_cast<void>(end()); }
  json next() {
    std::string line;
    for (int c = 0; (c = std::fgetc(out_)) != EOF && c != '\n';) line += static_cast<char>(c);
    return json::parse(line, nullptr, false);
  }
  /// Ctrl-C; the exit code.
  int end() {
    if (pid_ < 0) return -1;
    ::kill(pid_, SIGINT);
    int status = 0;
    ::waitpid(std::exchange(pid_, -1), &status, 0);
    std::fclose(out_);
    return WIFEXITED(status) ? WEXITSTATUS(status) : 128;
  }

 private:
  pid_t pid_ = -1;
  FILE* out_ = nullptr;
};

class PhonesOnUsb : public testing::Test {
 protected:
  void start(std::vector<std::string> more = {}) {
    std::vector<std::string> words = {kBin + "standin", "--browser", "none"};
    words.insert(words.end(), more.begin(), more.end());
    standin = std::make_unique<Background>(words);
    const auto ports = json::parse(standin->first_line());
    port = ports["port"].get<std::uint16_t>();
    jig = ports["jig_port"].get<std::uint16_t>();
  }
  MockDevice& plug(int address = 7) {
    auto spec = phone_spec();
    spec.address = address;
    return bus.plug(spec, port);
  }
  [[nodiscard]] std::vector<std::string> words(std::vector<std::string> more) const {
    std::vector<std::string> all = {kBin + "handback", "--home", home / "bench"};
    all.insert(all.end(), more.begin(), more.end());
    return all;
  }
  [[nodiscard]] json phones() const {
    const auto r = run(words({"phones", "--json"}));
    EXPECT_EQ(r.code, 0) << r.err;
    return r.json();
  }
  TempFolder home;
  std::unique_ptr<Background> standin;
  std::uint16_t port = 0, jig = 0;
  MockBus bus;
};

void expect_ready(const json& p) {
  ASSERT_TRUE(p.is_object()) << p;
  EXPECT_EQ(p["port"], "1-3");
  EXPECT_EQ(p["state"], "ready");
  EXPECT_EQ(p["model"], "Velmora Petal");
  EXPECT_TRUE(std::regex_match(p["tail"].get<std::string>(), std::regex("[A-Z0-9]{4}"))) << p;
}

TEST_F(PhonesOnUsb, NoneThere) { EXPECT_EQ(phones(), json::array()); }

TEST_F(PhonesOnUsb, ReadyByModelAndTailAndWithoutASerialNumber) {
  start();
  plug();
  const auto all = phones();
  ASSERT_EQ(all.size(), 1u) << all;
  expect_ready(all[0]);
  const auto text = run(words({"phones"}));
  EXPECT_NE(text.out.find("Velmora Petal"), std::string::npos) << text.out;
  EXPECT_FALSE(std::regex_search(text.out + all.dump(), std::regex("[A-Z0-9]{7,}"))) << "longer than a tail";
}

TEST_F(PhonesOnUsb, OwnerHasToLookAtThePhone) {
  start({"--never-allow"});
  plug();
  const auto all = phones();
  ASSERT_EQ(all.size(), 1u) << all;
  EXPECT_EQ(all[0]["state"], "allow");
  EXPECT_TRUE(all[0]["model"].is_null() && all[0]["tail"].is_null()) << all;
}

TEST_F(PhonesOnUsb, AnotherProgramHoldsIt) {
  start();
  plug();
  net::io_context io;
  std::unique_ptr<link::Transport> held;
  net::co_spawn(
      io,
      [](std::unique_ptr<link::Transport>& into) -> net::awaitable<void> {
        auto t = co_await link::connect_usb(std::nullopt, net::milliseconds(10000));
        if (t) into = std::move(*t);
      }(held),
      net::detached);
  io.run();
  ASSERT_TRUE(held);
  EXPECT_EQ(phones()[0]["state"], "busy");
  held.reset();
  EXPECT_EQ(phones()[0]["state"], "ready");
}

TEST_F(PhonesOnUsb, ComesAndGoes) {
  start();
  plug();
  Lines watch(words({"phones", "--watch", "--json"}));
  EXPECT_EQ(watch.next()["state"], "allow") << "the first time the owner is asked";
  expect_ready(watch.next());
  bus.unplug(7);
  auto gone = watch.next();
  EXPECT_EQ(gone["state"], "unplugged");
  EXPECT_EQ(gone["model"], "Velmora Petal");
  plug(8);
  expect_ready(watch.next());
  EXPECT_EQ(watch.end(), 0);
}

TEST_F(PhonesOnUsb, AWholeRunOverUsb) {
  start();
  auto& device = plug();
  ASSERT_EQ(run(words({"bench", "init", "--shop", "Demo shop", "--name", "bench 1", "--contact",
                       "ask at the counter"}))
                .code,
            0);
  ASSERT_EQ(
      run(words({"intake", "--repair", "display-hinge-swap", "--fault", "inner-screen-dark", "--consent"}))
          .code,
      0);
  const auto r = run(
      words({"run", "--device", "usb", "--fixture", "tcp:127.0.0.1:" + std::to_string(jig), "--json"}), 110);
  EXPECT_EQ(r.code, 3) << "no browser and no charging pad over USB: not complete\n" << r.out << r.err;
  EXPECT_NE(r.out.find("\"pass\""), std::string::npos) << r.out;
  EXPECT_EQ(device.gadget().counters().complaint, "");
  EXPECT_GT(device.gadget().counters().bytes_in, 100'000u);
  // What a link cannot test kept its job the newest open one for ever.
  const auto next = run(words({"run", "--device", "usb"}));
  EXPECT_EQ(next.code, 2);
  EXPECT_NE(next.err.find("no job of this bench is open"), std::string::npos) << next.err;
}

// With several phones the first one found was taken.
TEST_F(PhonesOnUsb, OfSeveralPhonesOneIsChosenByPortOrTail) {
  start();
  auto spec = phone_spec();
  bus.plug(spec, port);
  spec.address = 9;
  spec.port = "1-4";
  spec.serial = "R5XX0000ABCD";
  bus.plug(spec, port);
  ASSERT_EQ(run(words({"bench", "init", "--shop", "Demo shop", "--contact", "ask at the counter"})).code, 0);
  ASSERT_EQ(run(words({"intake", "--repair", "display swap", "--fault", "screen dark", "--consent"})).code,
            0);
  const auto both = run(words({"run", "--device", "usb"}));
  EXPECT_EQ(both.code, 2);
  EXPECT_NE(both.err.find("2 phones"), std::string::npos) << both.err;
  EXPECT_NE(both.err.find("usb:1-3"), std::string::npos) << both.err;
  EXPECT_NE(both.err.find("ends in ABCD"), std::string::npos) << both.err;
  EXPECT_EQ(both.err.find("R5XX"), std::string::npos) << both.err;
  const auto none = run(words({"run", "--device", "usb:ZZZZ"}));
  EXPECT_NE(none.err.find("not plugged in"), std::string::npos) << none.err;
}

TEST(Setup, RuleIsShownAskedForAndWritten) {
  const TempFolder folder;
  const std::string file = folder / "60-handback.rules", handback = kBin + "handback";
  const std::vector<std::string> shown = {handback, "setup", "--rules", folder.path().string()};
  const auto no = run(shown, 20, "n\n");
  EXPECT_EQ(no.code, 0) << no.err;
  EXPECT_NE(no.out.find("TAG+=\"uaccess\""), std::string::npos) << no.out;
  EXPECT_FALSE(std::filesystem::exists(file)) << "no is no";
  EXPECT_EQ(run(shown, 20, "").code, 0);
  EXPECT_FALSE(std::filesystem::exists(file)) << "neither is nothing";
  const auto yes = run({handback, "setup", "--yes", "--rules", folder.path().string()}, 20);
  EXPECT_EQ(yes.code, 0) << yes.err;
  EXPECT_NE(slurp(file).find("*:ff4201:*"), std::string::npos);
  EXPECT_NE(run(shown, 20).out.find("it is there"), std::string::npos);
  const auto refused = run({handback, "setup", "--yes", "--rules", folder / "none"}, 20);
  EXPECT_EQ(refused.code, 2);
  EXPECT_NE(refused.err.find("sudo"), std::string::npos) << refused.err;
}
}  // namespace
}  // namespace hb::test
