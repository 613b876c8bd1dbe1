// Phone on a link that records every command and answers from a table.
#include <gtest/gtest.h>

#include <deque>
#include <map>
#include <string>

#include "harness/link/packet.hpp"
#include "harness/phone/phone.hpp"
#include "show.hpp"
#include "texts.hpp"

namespace hb::phone {
namespace {
using net::awaitable;
using net::milliseconds;

Error fake_error(ErrorCode code) { return {code, "fake", "fake", "fake"}; }

class FakeStream final : public link::Stream {
 public:
  explicit FakeStream(std::deque<Result<Bytes>> reads) : reads_(std::move(reads)) {}
  awaitable<Result<Bytes>> read(milliseconds) override {
    if (reads_.empty()) co_return Bytes{};
    auto r = std::move(reads_.front());
    reads_.pop_front();
    co_return r;
  }
  awaitable<Result<void>> write(Bytes data, milliseconds) override {
    if (data != Bytes{3}) co_return fake_error(ErrorCode::internal);  // control-C, nothing else
    co_return Result<void>{};
  }
  void close() override {}

 private:
  std::deque<Result<Bytes>> reads_;
};

class FakeLink final : public link::Link {
 public:
  std::vector<std::string> sent;
  std::map<std::string, Result<link::ShellOutput>> answers;  ///< by the beginning of the command
  std::deque<Result<Bytes>> stream_reads;
  bool shell_v2 = true;

  void answer(const std::string& beginning, std::string out, int exit_code = 0, std::string err = {}) {
    answers.insert_or_assign(beginning, link::ShellOutput{std::move(out), std::move(err), exit_code});
  }
  const std::map<std::string, std::string>& banner() const override { return banner_; }
  bool has_feature(std::string_view f) const override { return shell_v2 && f == "shell_v2"; }
  std::string_view transport_kind() const override { return "tcp"; }
  bool alive() const override { return true; }
  awaitable<Result<std::unique_ptr<link::Stream>>> open_stream(std::string service, milliseconds) override {
    for (const std::string_view prefix : {"shell,v2,raw:", "shell:"})
      if (service.starts_with(prefix)) return opened(service.substr(prefix.size()));
    return opened("service that is no shell: " + service);
  }
  awaitable<Result<link::ShellOutput>> shell(std::string command, milliseconds, std::size_t) override {
    sent.push_back(command);
    for (const auto& [beginning, answer] : answers)
      if (command.starts_with(beginning)) co_return answer;
    co_return link::ShellOutput{};
  }
  awaitable<Result<std::unique_ptr<link::Stream>>> shell_pty(std::string command, milliseconds) override {
    return opened(command);
  }
  awaitable<Result<std::uint16_t>> reverse(std::uint16_t, std::uint16_t, Acceptor, milliseconds) override {
    sent.emplace_back("reverse");
    co_return fake_error(ErrorCode::internal);
  }
  awaitable<Result<void>> remove_reverse(std::uint16_t, milliseconds) override {
    sent.emplace_back("remove_reverse");
    co_return Result<void>{};
  }
  void close() override {}

 private:
  awaitable<Result<std::unique_ptr<link::Stream>>> opened(std::string command) {
    sent.push_back(std::move(command));
    std::unique_ptr<link::Stream> s = std::make_unique<FakeStream>(std::move(stream_reads));
    stream_reads.clear();
    co_return s;
  }
  std::map<std::string, std::string> banner_;
};

template <class T>
awaitable<void> keep(awaitable<Result<T>> work, std::optional<Result<T>>* into) {
  into->emplace(co_await std::move(work));
}
template <class T>
Result<T> run(awaitable<Result<T>> work) {
  net::io_context io;
  std::optional<Result<T>> out;
  net::co_spawn(io, keep(std::move(work), &out), [](std::exception_ptr e) {
    if (e) std::rethrow_exception(e);
  });
  io.run();
  return *std::move(out);
}

struct OnFake : ::testing::Test {
  std::shared_ptr<FakeLink> link = std::make_shared<FakeLink>();
  std::unique_ptr<Phone> phone = Phone::on(link);
  static Bytes key() { return Bytes(32, 0x42); }
};

Bytes bytes(std::string_view s) { return Bytes(s.begin(), s.end()); }

/// Whether `command` is `form` with each {} filled by something short made of name characters.
bool instance_of(std::string_view form, std::string_view command) {
  const auto slot = form.find("{}");
  if (slot == form.npos) return form == command;
  if (!command.starts_with(form.substr(0, slot))) return false;
  form.remove_prefix(slot + 2);
  command.remove_prefix(slot);
  for (std::size_t n = 0; n <= command.size() && n <= 64; ++n) {
    if (n > 0 && instance_of(form, command.substr(n))) return true;
    const char c = n < command.size() ? command[n] : '\'';
    const bool dot = c == '.' && form == "/current_speed";  // controllers' names have dots
    if (!(std::isalnum(static_cast<unsigned char>(c)) || c == ' ' || c == '_' || c == '-' || dot))
      return false;
  }
  return false;
}
bool listed(std::string_view command) {
  for (const auto& c : command_list())
    if (instance_of(c.text.view(), command)) return true;
  return false;
}

TEST_F(OnFake, EveryCallSendsOnlyListedCommandsAndEveryListedCommandIsUsed) {
  (void)run(phone->identity(key()));
  (void)run(phone->is_model("petal", "VM-P2"));
  (void)run(phone->sdk());
  (void)run(phone->uptime_s());
  (void)run(phone->battery());
  (void)run(phone->sensor(36));
  (void)run(phone->input_devices());
  (void)run(phone->device_state());
  (void)run(phone->thermal());
  (void)run(phone->cameras());
  (void)run(phone->display_size());
  (void)run(phone->wake());
  (void)run(phone->stop_load());
  (void)run(phone->wifi());
  (void)run(phone->bluetooth());
  (void)run(phone->nfc());
  (void)run(phone->sim());
  (void)run(phone->mobile());
  (void)run(phone->fingerprint_readers());
  const std::vector<std::string> names{"battery-main",       "b",     "",   "../x", "a b",
                                       "a;reboot",           "$(id)", "a'", "a\nb", std::string(33, 'a'),
                                       std::string(32, 'a'), "a/b",   "x.y"};
  for (const auto& n : names) {
    (void)run(phone->cell(n));
    (void)run(phone->supply(n));
    (void)run(phone->link_mbit_s(n));
    (void)run(phone->open_page("h1", 8123, n));
  }
  for (const int n : {-1, 0, 1, 3, 60, 61, 999, 1000, 2147483647}) {
    (void)run(phone->touch(n));
    (void)run(phone->vibrate(n));
    (void)run(phone->start_load(n, 4));
    (void)run(phone->start_load(10, n));
  }
  (void)run(phone->open_page("h1", 0, "abc"));
  for (const auto& s : link->sent) EXPECT_TRUE(listed(s)) << s;
  for (const auto& c : command_list()) {
    bool used = false;
    for (const auto& s : link->sent) used = used || instance_of(c.text.view(), s);
    EXPECT_TRUE(used) << c.text.view();
  }
}

TEST(CommandList, EveryEntrySaysAllAboutItself) {
  for (const auto& c : command_list())
    for (const Term t : {c.id, c.text, c.reads, c.versions, c.personal, c.kept}) EXPECT_FALSE(t.empty());
  EXPECT_FALSE(listed("getprop"));
  EXPECT_FALSE(listed("getprop ro.serialno; reboot"));
  EXPECT_FALSE(listed("getevent -lt /dev/input/event3;reboot"));
  EXPECT_FALSE(listed("cat /sys/class/udc/a;b/current_speed"));
}

TEST_F(OnFake, ExactTexts) {
  link->stream_reads = {link::encode_shell(link::ShellId::out, as_bytes("started\n"))};
  ASSERT_TRUE(run(phone->start_load(30, 4)));
  (void)run(phone->open_page("h1", 8123, "k3y"));
  (void)run(phone->cell("battery-sub"));
  (void)run(phone->touch(12));
  EXPECT_EQ(
      link->sent,
      (std::vector<std::string>{
          "for i in 1 2 3 4; do timeout 30 sh -c 'while :; do :; done' >/dev/null 2>&1 & done; echo started",
          "am start -a android.intent.action.VIEW -d 'http://h1.localhost:8123/k3y/'",
          "cd /sys/class/power_supply/battery-sub 2>/dev/null || exit 3; cat /proc/uptime; for f in "
          "present voltage_now current_now temp charge_counter charge_full charge_full_design "
          "cycle_count capacity status; do echo \"$f=$(cat $f 2>/dev/null)\"; done",
          "getevent -lt /dev/input/event12"}));
}

TEST_F(OnFake, BadArgumentsSendNothing) {
  EXPECT_EQ(run(phone->cell("a/../b")).error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(run(phone->supply("a.b")).error().code, ErrorCode::invalid_argument);
  for (const char* udc : {"..", ".x", "a/b", "", "a b", "a;b"})
    EXPECT_EQ(run(phone->link_mbit_s(udc)).error().code, ErrorCode::invalid_argument) << udc;
  EXPECT_EQ(run(phone->open_page("h1", 8123, "A")).error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(run(phone->open_page("a.b", 8123, "a")).error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(run(phone->start_load(0, 1)).error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(run(phone->start_load(1, 9)).error().code, ErrorCode::invalid_argument);
  for (const int ms : {0, 2001}) EXPECT_EQ(run(phone->vibrate(ms)).error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(run(phone->touch(-1)).error().code, ErrorCode::invalid_argument);
  EXPECT_EQ(run(phone->identity({})).error().code, ErrorCode::invalid_argument);
  EXPECT_TRUE(link->sent.empty());
}

TEST_F(OnFake, IdentityIsAKeyedTagAndATail) {
  link->answer("getprop ro.serialno", "vm2petal-00aB7x\r\n");
  const auto id = run(phone->identity(key())).value();
  EXPECT_EQ(id.tail, "AB7X");
  EXPECT_EQ(id.tag, hex(ByteView(hmac_sha256(key(), as_bytes("vm2petal-00aB7x"))).first(8)));
  EXPECT_EQ(id.tag.size(), 16u);
  EXPECT_NE(run(phone->identity(Bytes(32, 0x43))).value().tag, id.tag);
  EXPECT_EQ(show(id).find("vm2petal"), std::string::npos);
}

TEST_F(OnFake, AShortSerialGivesAtMostHalfOfItself) {
  link->answer("getprop ro.serialno", "Ab12\n");
  EXPECT_EQ(run(phone->identity(key())).value().tail, "12");
  for (const std::string none : {"", "\n", "unknown\n", "two words\n", "a\nb\n", "\x01\n"}) {
    link->answer("getprop ro.serialno", none);
    EXPECT_EQ(run(phone->identity(key())).error().code, ErrorCode::unsupported);
  }
}

TEST_F(OnFake, ModelIsComparedWhole) {
  link->answer("getprop ro.product.device", "petal\n");
  link->answer("getprop ro.product.model", "VM-P2\r\n");
  EXPECT_TRUE(run(phone->is_model("petal", "VM-P2")).value());
  EXPECT_FALSE(run(phone->is_model("petal", "VM-P")).value());
  EXPECT_FALSE(run(phone->is_model("plank", "VM-P2")).value());
  // An answer that came twice, or not at all, names no other model.
  for (const std::string damaged : {"petal\npetal\n", "\n", ""}) {
    link->answer("getprop ro.product.device", damaged);
    EXPECT_EQ(run(phone->is_model("petal", "VM-P2")).error().code, ErrorCode::bad_format);
  }
}

TEST_F(OnFake, NumbersComeThrough) {
  link->answer("getprop ro.build.version.sdk", "34\n");
  link->answer("cat /proc/uptime", "5123.45 20110.02\n");
  EXPECT_EQ(run(phone->sdk()).value(), 34);
  EXPECT_EQ(run(phone->uptime_s()).value(), 5123.45);
  link->answer("getprop ro.build.version.sdk", "thirty\n");
  EXPECT_EQ(run(phone->sdk()).error().code, ErrorCode::bad_format);
}

TEST_F(OnFake, ACellThatIsNotThereIsNotReadable) {
  link->answer("cd /sys", "", 3);
  EXPECT_FALSE(run(phone->cell("battery-sub")).value().readable);
  link->answer("cd /sys", std::string(texts::cell));
  EXPECT_EQ(run(phone->cell("battery-sub")).value().voltage_mv, 3987.25);
}

TEST_F(OnFake, LossesComeThroughAndMissingProgramsAreUnsupported) {
  link->answers.insert_or_assign("cat", fake_error(ErrorCode::link_lost));
  EXPECT_EQ(run(phone->battery()).error().code, ErrorCode::link_lost);
  link->answer("wm size", "", 127, "sh: wm: inaccessible or not found\n");
  EXPECT_EQ(run(phone->display_size()).error().code, ErrorCode::unsupported);
  link->answer("dumpsys device_state", "", 20, "Can't find service: device_state\n");
  EXPECT_EQ(run(phone->device_state()).error().code, ErrorCode::unsupported);
}

TEST_F(OnFake, LoadIsStartedThoughTheStreamStaysOpen) {
  for (const bool v2 : {true, false}) {
    link->shell_v2 = v2;
    const std::string_view word = "started\n";
    link->stream_reads = {v2 ? link::encode_shell(link::ShellId::out, as_bytes(word)) : bytes(word),
                          fake_error(ErrorCode::timed_out)};
    EXPECT_TRUE(run(phone->start_load(5, 2))) << v2;
    link->stream_reads = {};
    EXPECT_EQ(run(phone->start_load(5, 2)).error().code, ErrorCode::unsupported) << v2;
  }
}

TEST_F(OnFake, StoppingTheLoadMayEndTheShellThatAsks) {
  link->answer("pkill", "", 143);
  EXPECT_TRUE(run(phone->stop_load()));
  link->answer("pkill", "stopped\n", 0, "sh: pkill: inaccessible or not found\n");
  EXPECT_EQ(run(phone->stop_load()).error().code, ErrorCode::unsupported);
}

TEST_F(OnFake, PageIsOpenedOnlyIfThePhoneSaysSo) {
  struct Case {
    std::string out, err;
    bool opened;
  };
  const std::string start =
      "Starting: Intent { act=android.intent.action.VIEW dat=http://h1.localhost:8123/... }\n";
  for (const auto& c : std::vector<Case>{
           {start, "", true},
           {start, "Warning: Activity not started, its current task has been brought to the front\n", true},
           {start, "Error: Activity not started, unable to resolve Intent\n", false},
           {"Error: unknown\n", "", false},
           {start + "java.lang.SecurityException: no\n", "", false},
           {"", "", false}}) {
    link->answer("am start", c.out, 0, c.err);
    const auto r = run(phone->open_page("h1", 8123, "abc"));
    EXPECT_EQ(r.has_value(), c.opened) << c.out << c.err;
    if (!r) {
      EXPECT_EQ(r.error().code, ErrorCode::unsupported);
    }
  }
}

TEST_F(OnFake, TouchStreamWaitsGivesAndEnds) {
  const auto half = texts::touch_hex.size() / 2;
  link->stream_reads = {bytes(texts::touch_hex.substr(0, half)), bytes("\r\njunk\r\n"),
                        fake_error(ErrorCode::timed_out), bytes("[       1.000000] 0000 0000 00000000\r\n"),
                        fake_error(ErrorCode::link_lost)};
  auto touch = run(phone->touch(3)).value();
  const milliseconds wait{2000};
  EXPECT_EQ(run(touch->read(wait)).value().size(), 3u);
  EXPECT_TRUE(run(touch->read(wait)).value().empty()) << "the wait passed";
  EXPECT_EQ(run(touch->read(wait)).value(), (std::vector<InputEvent>{{1.0, 0, 0, 0}}));
  EXPECT_EQ(touch->bad_lines(), 2u);
  EXPECT_EQ(run(touch->read(wait)).error().code, ErrorCode::link_lost);
  touch->close();
}

TEST_F(OnFake, ATouchStreamThatIsInterruptedGivesTheRestOrSaysThatItIsStuck) {
  link->stream_reads = {bytes("[       1.000000] 0000 0000 00000000\r\n^C"), Bytes{}};
  auto touch = run(phone->touch(3)).value();
  EXPECT_EQ(run(touch->finish(milliseconds(2000))).value(), (std::vector<InputEvent>{{1.0, 0, 0, 0}}));
  link->stream_reads = {bytes("[       1.000000] 0000 0000 00000000\r\n"), fake_error(ErrorCode::timed_out)};
  touch = run(phone->touch(3)).value();
  EXPECT_EQ(run(touch->finish(milliseconds(2000))).error().code, ErrorCode::timed_out);
}

TEST_F(OnFake, ATouchDeviceThatCannotBeReadIsUnsupported) {
  link->stream_reads = {bytes("could not open /dev/input/event3, Permission denied\r\n"), Bytes{}};
  auto touch = run(phone->touch(3)).value();
  EXPECT_EQ(run(touch->read(milliseconds(2000))).error().code, ErrorCode::unsupported);
}

TEST_F(OnFake, PlantedPersonalWordsReachNoResult) {
  const std::string words = "QZX-canary-7731 490154203237518\n";
  for (const std::string beginning :
       {"settings", "getprop", "cat", "cd", "dumpsys", "getevent", "wm", "input", "am", "pkill"})
    link->answer(beginning, words, 1, words);
  const auto clean = [](const auto& r) {
    ASSERT_FALSE(r.has_value());
    EXPECT_EQ(r.error().message().find("canary"), std::string::npos);
    EXPECT_EQ(r.error().message().find("490154"), std::string::npos);
  };
  clean(run(phone->identity(key())));
  clean(run(phone->sdk()));
  clean(run(phone->uptime_s()));
  clean(run(phone->battery()));
  clean(run(phone->cell("battery")));
  clean(run(phone->supply("usb")));
  clean(run(phone->link_mbit_s("udc.0")));
  clean(run(phone->wifi()));
  clean(run(phone->bluetooth()));
  clean(run(phone->nfc()));
  clean(run(phone->sim()));
  clean(run(phone->mobile()));
  clean(run(phone->fingerprint_readers()));
  clean(run(phone->sensor(36)));
  clean(run(phone->input_devices()));
  clean(run(phone->device_state()));
  clean(run(phone->thermal()));
  clean(run(phone->cameras()));
  clean(run(phone->display_size()));
  clean(run(phone->wake()));
  clean(run(phone->open_page("h1", 1, "a")));
  EXPECT_FALSE(run(phone->is_model("petal", "VM-P2")).value());
}
}  // namespace
}  // namespace hb::phone
