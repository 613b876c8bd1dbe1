// The check on whole stand-in phones, over the debug link and the page, with the stand-in's technician: many
// healthy units, and each fault of the picture on many units. HB_PANEL_UNITS: how many (default 6).
#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cstdlib>
#include <filesystem>

#include "checks/panel/panel.hpp"
#include "harness/link/link.hpp"
#include "harness/page/page.hpp"
#include "harness/phone/phone.hpp"
#include "tests/checks/bench_fakes/bench_fakes.hpp"
#include "tools/standin/browser/devtools.hpp"
#include "tools/standin/physics/faults.hpp"
#include "tools/standin/whole/whole.hpp"

namespace hb::checks {
namespace {
using nlohmann::json;
using namespace std::chrono_literals;
using standin::Whole;

/// Operator and clock by the fixture channel's lines: one request, one reply.
class Jig final : public Operator, public net::Clock {
 public:
  explicit Jig(net::io_context& io) : socket_(io) {}
  net::awaitable<Result<void>> connect(std::uint16_t port) {
    const net::tcp::endpoint there(net::asio::ip::address_v4::loopback(), port);
    const auto [ec] = co_await socket_.async_connect(there, net::tuple);
    if (ec) co_return Error{ErrorCode::link_lost, "no fixture", "", ""};
    co_return Result<void>{};
  }
  net::awaitable<Result<void>> begin(Action action) override {
    json j = json::object();
    j["begin"] = to_json(action);
    const auto r = co_await exchange(std::move(j));
    if (!r.value("ok", false)) co_return Error{ErrorCode::refused, r.value("why", "no answer"), "", ""};
    co_return Result<void>{};
  }
  net::awaitable<Result<bool>> done() override {
    json j = json::object();
    j["status"] = true;
    const auto r = co_await exchange(std::move(j));
    co_return !r.value("busy", true);
  }
  net::awaitable<Result<void>> enough() override {
    json j = json::object();
    j["enough"] = true;
    static_cast<void>(co_await exchange(std::move(j)));
    co_return Result<void>{};
  }
  net::BenchTime now() const override { return now_; }
  net::awaitable<Result<void>> wait(std::chrono::milliseconds d) override {
    json j = json::object();
    j["wait_ms"] = d.count();
    static_cast<void>(co_await exchange(std::move(j)));
    now_ += d;
    co_return Result<void>{};
  }
  Term kind() const override { return "test"; }

 private:
  net::awaitable<json> exchange(json request) {
    const std::string line = request.dump() + "\n";
    const auto [wec, wn] = co_await net::asio::async_write(socket_, net::asio::buffer(line), net::tuple);
    std::string reply;
    while (!wec && reply.find('\n') == std::string::npos) {
      char chunk[256];
      const auto [ec, n] = co_await socket_.async_read_some(net::asio::buffer(chunk), net::tuple);
      if (ec) co_return json::object();
      reply.append(chunk, n);
    }
    json j = json::parse(reply, nullptr, false);
    if (!j.is_object()) j = json::object();
    co_return j;
  }
  net::tcp::socket socket_;
  net::BenchTime now_{0};
};

// As in the shipped profiles.
Panel::Config config_of(const std::string& model) {
  Panel::Config c;
  if (model == "plank") {
    c.displays = {{Term("inner"), 68, 147.3, 0, false}};
  } else {
    c.displays = {{Term("inner"), 70, 171.1, 85.55, false}, {Term("outer"), 60, 62.3, 0, true}};
  }
  return c;
}
std::vector<Limit> limits_of(const Panel::Config& c) {
  std::vector<Limit> all;
  for (const auto& d : c.displays) {
    const auto at = [&](const char* key, double upper) {
      all.push_back({std::string("panel.observed_") + key, d.name, {}, upper, LimitOrigin::common_practice});
    };
    at("bright_dots", 0), at("dark_dots", 1), at("lines", 0), at("patches", 0);
    if (d.fold_mm > 0) at("fold_marks", 0);
  }
  return all;
}

struct Bench {
  explicit Bench(const link::BenchRsaKey& link_key) : key(link_key) {}
  ~Bench() {
    page.reset();
    if (phone) phone->link().close();
  }
  Bench(const Bench&) = delete;
  Bench& operator=(const Bench&) = delete;
  net::io_context io;
  link::BenchRsaKey key;
  std::unique_ptr<Whole> standin;
  std::unique_ptr<phone::Phone> phone;
  std::unique_ptr<PagePort> page;
  Jig jig{io};
  fakes::NoProgress progress;
};

net::awaitable<Result<Panel::Capture>> whole_check(Bench& b, Panel::Config config) {
  const auto fixture = co_await b.jig.connect(b.standin->jig_port());
  if (!fixture) co_return fixture.error();
  auto transport = co_await link::connect_tcp("127.0.0.1", b.standin->port(), 5s);
  if (!transport) co_return transport.error();
  auto opened = co_await link::Link::open(std::move(*transport), b.key, link::LinkOptions{});
  if (!opened) co_return opened.error();
  b.phone = phone::Phone::on(*opened);
  b.page = page::make_page(*b.phone);
  Context context{*b.phone, b.page.get(), b.jig, b.jig, b.progress};
  co_return co_await Panel{}.acquire(context, std::move(config));
}

Result<CheckResult> run_on(const std::string& model, std::uint64_t seed, std::vector<std::string> faults) {
  static const standin::TempFolder folder;
  static const auto key = link::BenchRsaKey::load_or_make(folder.path() / "bench.pem");
  if (!key) return key.error();
  Bench b(*key);
  standin::WholeOptions o;
  o.model = model, o.seed = seed, o.faults = std::move(faults);
  o.wire.ask_for_key = false;
  auto phone = Whole::start(b.io, o);
  if (!phone) return phone.error();
  b.standin = std::move(*phone);
  const auto config = config_of(model);
  std::optional<Result<Panel::Capture>> capture;
  net::co_spawn(b.io, fakes::keep(whole_check(b, config), &capture), net::detached);
  const auto until = std::chrono::steady_clock::now() + 60s;
  while (!capture && std::chrono::steady_clock::now() < until)
    if (b.io.run_one_until(until) == 0) break;
  b.standin->close();
  if (!capture) return Error{ErrorCode::timed_out, "the check did not end", "", ""};
  if (!*capture) return capture->error();
  return fakes::judge<Panel>(**capture, config, limits_of(config));
}

std::uint64_t units() {
  const char* named = std::getenv("HB_PANEL_UNITS");
  return named == nullptr ? 6 : std::strtoull(named, nullptr, 10);
}

class PanelOnStandin : public testing::TestWithParam<const char*> {};
TEST_P(PanelOnStandin, HealthyUnitsPass) {
  for (std::uint64_t seed = 1; seed <= units(); ++seed) {
    const auto r = run_on(GetParam(), seed, {});
    ASSERT_TRUE(r) << seed << ": " << r.error().message();
    EXPECT_EQ(r->outcome, Outcome::pass) << seed << " " << r->reason;
    EXPECT_TRUE(r->findings.empty());
  }
}
TEST_P(PanelOnStandin, EachFaultIsCaughtAndNamedAndNothingElseIs) {
  for (const auto& f : standin::fault_list()) {
    if (f.check != "panel" || !f.applies_to(GetParam())) continue;
    int caught = 0, named = 0, more = 0;
    for (std::uint64_t seed = 1; seed <= units(); ++seed) {
      const auto r = run_on(GetParam(), seed, {std::string(f.name)});
      ASSERT_TRUE(r) << f.name << " " << seed << ": " << r.error().message();
      caught += r->outcome == Outcome::fail ? 1 : 0;
      const auto ids = fakes::finding_ids(r->findings);
      named += std::count(ids.begin(), ids.end(), f.finding) > 0 ? 1 : 0;
      more += static_cast<int>(ids.size()) > 1 ? 1 : 0;
    }
    const int all = static_cast<int>(units());
    std::cout << GetParam() << " " << f.name << ": " << all << " units, caught " << caught << ", named "
              << named << ", named something besides " << more << "\n";
    EXPECT_EQ(caught, all) << f.name;
    EXPECT_EQ(named, all) << f.name;
    EXPECT_EQ(more, 0) << f.name;
  }
}
TEST_P(PanelOnStandin, AFaultOfTheTouchLayerIsNotSeen) {
  for (const char* fault : {"panel-cracked", "digitizer-row-open", "ghost-touch"}) {
    const auto r = run_on(GetParam(), 3, {fault});
    ASSERT_TRUE(r) << r.error().message();
    EXPECT_EQ(r->outcome, Outcome::pass) << fault;
  }
}
INSTANTIATE_TEST_SUITE_P(Models, PanelOnStandin, testing::Values("petal", "plank"),
                         [](const auto& i) { return std::string(i.param); });
}  // namespace
}  // namespace hb::checks
