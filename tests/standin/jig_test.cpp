#include <nlohmann/json.hpp>
#include <thread>

#include "phone_fixture.hpp"

namespace hb::standin {
namespace {
using nlohmann::json;

/// A stand-in's fixture channel on a real socket, served by its own thread.
class JigChannel : public testing::Test {
 protected:
  void SetUp() override {
    desk_.on_pull = [this] { ++pulls_; };
    desk_.on_plug = [this] { ++plugs_; };
    jig_ = Jig::listen(phone_.io, desk_, 0);
    thread_ = std::thread([this] { phone_.io.run(); });
    client_.connect({net::asio::ip::address_v4::loopback(), jig_->port()});
  }
  void TearDown() override {
    phone_.io.stop();
    thread_.join();
  }
  void send(const std::string& bytes) { net::asio::write(client_, net::asio::buffer(bytes)); }
  json receive() {
    std::string line;
    for (char c = 0;;) {
      net::asio::read(client_, net::asio::buffer(&c, 1));
      if (c == '\n') return json::parse(line);
      line += c;
    }
  }
  json ask(const json& request) {
    send(request.dump() + "\n");
    return receive();
  }

  TestPhone phone_;
  JigDesk desk_{phone_.world, phone_.time};
  std::atomic<int> pulls_ = 0, plugs_ = 0;
  std::unique_ptr<Jig> jig_;
  net::io_context own_;
  net::tcp::socket client_{own_};
  std::thread thread_;
};

TEST_F(JigChannel, ADeedIsBusyUntilItsTimeHasPassed) {
  EXPECT_EQ(ask({{"hello", 1}}), json({{"ok", true}, {"clock", "stepped"}, {"rate", 1.0}}));
  EXPECT_EQ(ask({{"begin", {{"action", "leave_alone"}, {"seconds", 2}}}}), json({{"ok", true}}));
  EXPECT_EQ(ask({{"wait_ms", 1990}})["now_ms"], 1990);
  EXPECT_EQ(ask({{"status", true}})["busy"], true);
  EXPECT_EQ(ask({{"wait_ms", 10}})["ok"], true);
  EXPECT_EQ(ask({{"status", true}})["busy"], false);
}

TEST_F(JigChannel, RequestsInOneWriteAreAnsweredInOrderAndATornOneWhenItIsWhole) {
  send("{\"wait_ms\":5}\n{\"wait_ms\":6}\n{\"sta");
  EXPECT_EQ(receive()["now_ms"], 5);
  EXPECT_EQ(receive()["now_ms"], 11);
  send("tus\":true}\n");
  EXPECT_EQ(receive()["busy"], false);
}

TEST_F(JigChannel, ALookIsAnsweredWithANumber) {
  EXPECT_EQ(ask({{"observe", "screws"}, {"part", "bottom edge"}})["value"], 2);
  EXPECT_EQ(ask({{"observe", "seated"}, {"part", "back cover"}})["value"], 1);
  EXPECT_LE(ask({{"observe", "widest_gap"}, {"part", "back cover"}})["value"], 0.1);
  EXPECT_EQ(ask({{"observe", "screws"}, {"part", "nowhere"}})["ok"], false);
  EXPECT_EQ(ask({{"observe", "taste"}, {"part", "back cover"}})["ok"], false);
}

TEST_F(JigChannel, NonsenseIsRefusedWithWordsAndTheChannelLives) {
  for (const char* line : {"", "7", "[1]", "{", "{\"juggle\":1}", "{\"begin\":7}", "{\"wait_ms\":-1}",
                           "{\"wait_ms\":\"x\"}", "{\"wait_ms\":1e99}", "{\"begin\":\"\xff\xfe\"}"}) {
    send(std::string(line) + "\n");
    const auto reply = receive();
    EXPECT_EQ(reply["ok"], false) << line;
    EXPECT_TRUE(reply["why"].is_string()) << line;
  }
  EXPECT_EQ(ask({{"status", true}})["ok"], true);
}

TEST_F(JigChannel, AnEndlessLineEndsTheConnection) {
  net::error_code ec;
  const std::string flood(64 * 1024, 'x');
  net::asio::write(client_, net::asio::buffer(flood), ec);
  char c = 0;
  const auto n = net::asio::read(client_, net::asio::buffer(&c, 1), ec);
  EXPECT_EQ(n, 0u);
  EXPECT_TRUE(ec);
}

TEST_F(JigChannel, TheCableCanBePulledAndPluggedIn) {
  EXPECT_EQ(ask({{"pull", true}})["ok"], true);
  EXPECT_EQ(pulls_, 1);
  EXPECT_EQ(ask({{"plug", true}})["ok"], true);
  EXPECT_EQ(plugs_, 1);
}

TEST_F(JigChannel, TenMinutesOfPhoneTimePassInLittleRealTime) {
  const auto start = std::chrono::steady_clock::now();
  EXPECT_EQ(ask({{"wait_ms", 600'000}})["ok"], true);
  EXPECT_LT(std::chrono::steady_clock::now() - start, std::chrono::seconds(20));
}

TEST(Pace, IsReadOrRefused) {
  EXPECT_EQ(Pace::parse("stepped")->kind, Pace::Kind::stepped);
  EXPECT_EQ(Pace::parse("rate:25")->rate, 25);
  for (const char* bad : {"", "rate", "rate:", "rate:0", "rate:-1", "rate:1e9", "rate:nan", "Wall"})
    EXPECT_FALSE(Pace::parse(bad)) << bad;
}

TEST(Pace, ARatedClockRunsByItselfAndDoesNotWait) {
  net::io_context io;
  World world(make_unit(*find_model("plank"), 1, {}));
  Timekeeper time(io, world, Pace{Pace::Kind::rate, 1000});
  EXPECT_FALSE(time.wait(10));
  while (world.now_us() < 100'000) io.run_one();  // 0.1 ms of real time
  EXPECT_LT(world.now_us(), 60'000'000);
}
}  // namespace
}  // namespace hb::standin
