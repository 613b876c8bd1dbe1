// A phone that breaks the protocol: the bench says what and where, keeps its memory, and never waits for
// ever.
#include <fmt/format.h>

#include "support.hpp"

namespace hb::test {
namespace {
using link::Link;
using link::LinkOptions;
using link::Packet;
using Wire = ScriptedPhone::Wire;

class HostilePhone : public testing::Test {
 protected:
  HostilePhone() : phone(std::make_shared<Wire>(io)) {}
  Result<std::shared_ptr<Link>> open(LinkOptions o = {}, std::string_view kind = "tcp") {
    return run(io, Link::open(std::make_unique<ScriptedPhone>(phone, kind), bench_key(), std::move(o)));
  }
  /// A phone that greets and then lets `then` answer each packet.
  std::shared_ptr<Link> greeted(std::function<std::vector<Bytes>(const Packet&)> then, LinkOptions o = {},
                                std::string_view features = "shell_v2") {
    phone->on_packet = [then, f = std::string(features)](const Packet& p) {
      if (p.command == link::kCnxn) return std::vector<Bytes>{wire(greeting(f))};
      return then(p);
    };
    return open(std::move(o)).value();
  }
  std::size_t sent(std::uint32_t command) const {
    return static_cast<std::size_t>(std::count_if(phone->from_bench.begin(), phone->from_bench.end(),
                                                  [&](const Packet& p) { return p.command == command; }));
  }
  /// Lets everything that is due happen.
  void settle() {
    io.restart();
    io.poll();
  }

  net::io_context io;
  std::shared_ptr<Wire> phone;
};

Bytes damaged_at(Bytes b, std::size_t at, std::uint8_t value) {
  b.at(at) = value;
  return b;
}

struct Opening {
  const char* name;
  std::vector<Bytes> says;
  ErrorCode code;
  const char* where;
};
const Opening kOpenings[] = {
    {"garbage before the greeting", {Bytes(64, 0xa5)}, ErrorCode::bad_format, "byte 0 of the link"},
    {"wrong magic", {damaged_at(wire(greeting()), 23, 0)}, ErrorCode::bad_format, "byte 0 of the link"},
    {"huge length", {damaged_at(wire(greeting()), 15, 0x7f)}, ErrorCode::bad_format, "byte 0 of the link"},
    {"wrong checksum", {damaged_at(wire(greeting()), 16, 0)}, ErrorCode::bad_format, "byte 0 of the link"},
    {"greeting above the old maximum",
     {wire(packet(link::kCnxn, 0x01000001, 1u << 20, std::string(5000, 'x')))},
     ErrorCode::bad_format,
     "opening of the link"},
    {"packets of no size",
     {wire(packet(link::kCnxn, 0x01000001, 0, "device::"))},
     ErrorCode::bad_format,
     "opening of the link"},
    {"token of a wrong length",
     {wire(packet(link::kAuth, 1, 0, "short"))},
     ErrorCode::bad_format,
     "authorisation"},
    {"wants encryption",
     {wire(packet(link::kStls, 0x01000000, 0))},
     ErrorCode::unsupported,
     "opening of the link"},
    {"is in recovery",
     {wire(packet(link::kCnxn, 0x01000001, 1u << 20, "recovery::"))},
     ErrorCode::unsupported,
     "opening of the link"},
    {"asks again and again", std::vector<Bytes>(9, wire(packet(link::kAuth, 1, 0, std::string(20, 't')))),
     ErrorCode::unauthorised, "authorisation"},
};

TEST_F(HostilePhone, BadOpeningsAreNamed) {
  for (const auto& o : kOpenings) {
    phone = std::make_shared<Wire>(io);
    for (const auto& b : o.says) phone->say(b);
    const auto l = open();
    ASSERT_FALSE(l) << o.name;
    EXPECT_EQ(l.error().code, o.code) << o.name << ": " << l.error().message();
    EXPECT_EQ(l.error().where, o.where) << o.name;
    EXPECT_TRUE(phone->closed) << o.name;
  }
}

TEST_F(HostilePhone, PacketCutShortAndThenSilenceRunsIntoTheDeadline) {
  const auto whole = wire(greeting());
  phone->say(Bytes(whole.begin(), whole.end() - 3));
  LinkOptions o;
  o.handshake = 50ms;
  EXPECT_EQ(open(o).error().code, ErrorCode::timed_out);
}

TEST_F(HostilePhone, LeftoversOfAFormerConnectionArePassedOver) {
  phone->say(wire(packet(link::kWrte, 5, 6, "old")));
  phone->say(wire(packet(link::kClse, 5, 6)));
  phone->say(wire(greeting()));
  EXPECT_TRUE(open());
}

struct Later {
  const char* name;
  Bytes says;
  ErrorCode code;
};
const Later kLater[] = {
    {"unknown command", wire(packet(0x434e5953, 0, 0)), ErrorCode::bad_format},
    {"wrong magic", damaged_at(wire(packet(link::kOkay, 1, 1)), 20, 0), ErrorCode::bad_format},
    {"length above the agreed", damaged_at(wire(packet(link::kOkay, 1, 1)), 14, 0xff), ErrorCode::bad_format},
    {"greets again", wire(greeting()), ErrorCode::link_lost},
    {"takes the authorisation back", wire(packet(link::kAuth, 1, 0, std::string(20, 't'))),
     ErrorCode::link_lost},
};

TEST_F(HostilePhone, BadPacketsLaterEndTheLinkWithTheirPlace) {
  const auto greeting_size = wire(greeting()).size();
  for (const auto& row : kLater) {
    phone = std::make_shared<Wire>(io);
    const auto l = greeted([&](const Packet& p) {
      return p.command == link::kOpen ? std::vector<Bytes>{row.says} : std::vector<Bytes>{};
    });
    const auto r = run(io, l->open_stream("sync:", 1h));
    ASSERT_FALSE(r) << row.name;
    EXPECT_EQ(r.error().code, row.code) << row.name << ": " << r.error().message();
    if (row.code == ErrorCode::bad_format) {
      EXPECT_EQ(r.error().where, fmt::format("byte {} of the link", greeting_size)) << row.name;
    }
    EXPECT_FALSE(l->alive()) << row.name;
    EXPECT_TRUE(phone->closed) << row.name;
  }
}

TEST_F(HostilePhone, ConnectionNobodyAskedForIsRefused) {
  const auto l = greeted([](const Packet& p) {
    if (p.command != link::kOpen) return std::vector<Bytes>{};
    return std::vector<Bytes>{wire(packet(link::kOkay, 7, p.arg0)),
                              wire(packet(link::kWrte, 7, p.arg0, "OKAY")),
                              wire(packet(link::kClse, 7, p.arg0))};
  });
  int accepted = 0;
  const auto count = [&accepted](std::unique_ptr<link::Stream>) -> net::awaitable<void> {
    ++accepted;
    co_return;
  };
  ASSERT_TRUE(run(io, l->reverse(8000, 41001, count, 5s)));
  const std::string nul(1, '\0');
  const auto try_open = [&](const std::string& destination, std::uint32_t window) {
    phone->say(wire(packet(link::kOpen, 77, window, destination + nul)));
    settle();
    return phone->from_bench.back();
  };
  for (const auto* destination :
       {"tcp:22", "tcp:8000", "tcp:41001 ", "tcp:041001", "localfilesystem:/etc/passwd", ""})
    EXPECT_EQ(try_open(destination, 0), packet(link::kClse, 0, 77)) << destination;
  EXPECT_EQ(try_open("tcp:41001", 1024), packet(link::kClse, 0, 77)) << "a window that nobody agreed on";
  EXPECT_EQ(accepted, 0);
  try_open("tcp:41001", 0);
  EXPECT_EQ(accepted, 1) << "the one that was asked for";
  ASSERT_TRUE(run(io, l->remove_reverse(8000, 5s)));
  EXPECT_EQ(try_open("tcp:41001", 0), packet(link::kClse, 0, 77)) << "removed";
  EXPECT_EQ(accepted, 1);
  EXPECT_TRUE(l->alive());
}

TEST_F(HostilePhone, PacketsForUnknownStreamsChangeNothing) {
  const auto l = greeted([](const Packet&) { return std::vector<Bytes>{}; });
  const auto before = phone->from_bench.size();
  phone->say(wire(packet(link::kClse, 9, 99)));
  phone->say(wire(packet(link::kClse, 0, 0)));
  phone->say(wire(packet(link::kWrte, 9, 99, "data")));
  settle();
  EXPECT_EQ(phone->from_bench.size(), before);
  phone->say(wire(packet(link::kOkay, 9, 99)));
  settle();
  ASSERT_EQ(phone->from_bench.size(), before + 1);
  EXPECT_EQ(phone->from_bench.back(), packet(link::kClse, 99, 9)) << "so that the phone's end closes too";
  EXPECT_TRUE(l->alive());
}

TEST_F(HostilePhone, LateOpeningOfAStreamGivenUpIsClosed) {
  const auto l = greeted([](const Packet&) { return std::vector<Bytes>{}; });
  EXPECT_EQ(run(io, l->open_stream("sync:", 20ms)).error().code, ErrorCode::timed_out);
  const auto open_packet = phone->from_bench.back();
  phone->say(wire(packet(link::kOkay, 500, open_packet.arg0)));
  settle();
  EXPECT_EQ(phone->from_bench.back(), packet(link::kClse, open_packet.arg0, 500));
}

TEST_F(HostilePhone, FloodWithoutOurOkayCostsTheStreamAndNoMemory) {
  std::uint32_t id = 0;
  LinkOptions o;
  o.max_unread_per_stream = 1u << 20;
  const auto l = greeted(
      [&](const Packet& p) {
        if (p.command == link::kOpen) id = p.arg0;
        return p.command == link::kOpen ? std::vector<Bytes>{wire(packet(link::kOkay, 7, p.arg0))}
                                        : std::vector<Bytes>{};
      },
      o);
  const auto s = run(io, l->open_stream("sync:", 5s)).value();
  const std::string piece(100000, 'f');
  for (int i = 0; i < 11; ++i) phone->say(wire(packet(link::kWrte, 7, id, piece)));
  settle();
  const auto r = run(io, s->read(5s));
  ASSERT_FALSE(r);
  EXPECT_EQ(r.error().code, ErrorCode::bad_format) << r.error().message();
  EXPECT_EQ(sent(link::kClse), 1u);
  EXPECT_TRUE(l->alive());
}

TEST_F(HostilePhone, WellBehavedPhoneIsNotAcknowledgedBeyondWhatIsKept) {
  std::uint32_t id = 0;
  LinkOptions o;
  o.max_payload = 4096;
  o.max_unread_per_stream = 3 * 4096;
  const auto l = greeted(
      [&](const Packet& p) {
        const std::string page(4096, 'p');
        if (p.command == link::kOpen) id = p.arg0;
        if (p.command == link::kOpen)
          return std::vector<Bytes>{wire(packet(link::kOkay, 7, id)), wire(packet(link::kWrte, 7, id, page))};
        if (p.command == link::kOkay) return std::vector<Bytes>{wire(packet(link::kWrte, 7, id, page))};
        return std::vector<Bytes>{};
      },
      o);
  const auto s = run(io, l->open_stream("sync:", 5s)).value();
  settle();
  EXPECT_EQ(sent(link::kOkay), 2u) << "the third page waits for the reader";
  std::size_t got = 0;
  for (int i = 0; i < 50; ++i) got += run(io, s->read(5s)).value().size();
  EXPECT_GE(got, std::size_t{50 * 4096});
}

TEST_F(HostilePhone, AcknowledgementOfAWrongLengthEndsTheLink) {
  const auto l = greeted(
      [](const Packet& p) {
        return p.command == link::kOpen ? std::vector<Bytes>{wire(packet(link::kOkay, 7, p.arg0, "12"))}
                                        : std::vector<Bytes>{};
      },
      {}, "shell_v2,delayed_ack");
  EXPECT_EQ(run(io, l->open_stream("sync:", 5s)).error().code, ErrorCode::bad_format);
  EXPECT_FALSE(l->alive());
}

TEST_F(HostilePhone, TakesNoDataWithoutAWindow) {
  const auto l = greeted(
      [](const Packet& p) {
        const std::string negative("\xff\xff\xff\xff", 4);
        return p.command == link::kOpen ? std::vector<Bytes>{wire(packet(link::kOkay, 7, p.arg0, negative))}
                                        : std::vector<Bytes>{};
      },
      {}, "shell_v2,delayed_ack");
  const auto s = run(io, l->open_stream("sync:", 5s)).value();
  EXPECT_EQ(run(io, s->write(Bytes(10, 'x'), 20ms)).error().code, ErrorCode::timed_out);
  EXPECT_EQ(sent(link::kWrte), 0u);
}

TEST_F(HostilePhone, DataBeforeTheCloseIsStillDelivered) {
  const auto l = greeted([](const Packet& p) {
    if (p.command != link::kOpen) return std::vector<Bytes>{};
    return std::vector<Bytes>{wire(packet(link::kOkay, 7, p.arg0)),
                              wire(packet(link::kWrte, 7, p.arg0, "last words")),
                              wire(packet(link::kClse, 7, p.arg0))};
  });
  const auto s = run(io, l->open_stream("sync:", 5s)).value();
  EXPECT_EQ(as_text(run(io, s->read(5s)).value()), "last words");
  EXPECT_TRUE(run(io, s->read(5s)).value().empty());
  EXPECT_EQ(run(io, s->write(Bytes{1}, 5s)).error().code, ErrorCode::refused);
}

TEST_F(HostilePhone, AnswersAboutAPortAreReadStrictly) {
  struct Row {
    const char* answer;
    std::optional<ErrorCode> code;
  };
  const Row rows[] = {{"OKAY000541555", std::nullopt},
                      {"OKAY", ErrorCode::bad_format},
                      {"OKAY000470000", ErrorCode::bad_format},
                      {"OKAY00050000", ErrorCode::bad_format},
                      {"OKAY000500000", ErrorCode::bad_format},
                      {"FAIL0004nope", ErrorCode::refused},
                      {"", ErrorCode::bad_format},
                      {"WHAT", ErrorCode::bad_format}};
  for (const auto& row : rows) {
    phone = std::make_shared<Wire>(io);
    const auto l = greeted([&](const Packet& p) {
      if (p.command != link::kOpen) return std::vector<Bytes>{};
      return std::vector<Bytes>{wire(packet(link::kOkay, 7, p.arg0)),
                                wire(packet(link::kWrte, 7, p.arg0, row.answer)),
                                wire(packet(link::kClse, 7, p.arg0))};
    });
    const auto ignore = [](std::unique_ptr<link::Stream>) -> net::awaitable<void> { co_return; };
    const auto port = run(io, l->reverse(0, 41001, ignore, 5s));
    EXPECT_EQ(port ? std::nullopt : std::optional(port.error().code), row.code) << row.answer;
    const auto again = run(io, l->reverse(41001, 41001, ignore, 5s));
    if (row.code == ErrorCode::refused) {
      EXPECT_EQ(again.error().code, ErrorCode::refused) << "the failed one is forgotten";
    }
  }
}
}  // namespace
}  // namespace hb::test
