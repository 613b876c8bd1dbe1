#include <gtest/gtest.h>

#include "harness/link/packet.hpp"

namespace hb::link {
namespace {
Packet make(std::uint32_t command, std::uint32_t arg0, std::uint32_t arg1, std::string_view payload) {
  Packet p;
  p.command = command;
  p.arg0 = arg0;
  p.arg1 = arg1;
  p.payload.assign(payload.begin(), payload.end());
  return p;
}

struct Wire {
  const char* name;
  Packet packet;
  std::uint32_t version;
  const char* hex;
};
// Worked out by hand from AOSP adb protocol.txt: six little-endian words, magic = command ^ 0xffffffff,
// data_check = plain sum of the payload's bytes (types.h calculate_apacket_checksum).
// "host::" sums to 0x68+0x6f+0x73+0x74+0x3a+0x3a = 0x232; "hi\0" to 0xd1.
const Wire kWires[] = {
    {"a greeting always carries its sum", make(kCnxn, 0x01000001, 0x00100000, "host::"), kVersionSkipChecksum,
     "434e584e010000010000100006000000"
     "32020000bcb1a7b1"},
    {"an okay without payload", make(kOkay, 1, 0x0a0b0c0d, ""), kVersionChecksum,
     "4f4b4159010000000d0c0b0a00000000"
     "00000000b0b4bea6"},
    {"data to an old phone carries its sum", make(kWrte, 7, 8, std::string_view("hi\0", 3)), kVersionChecksum,
     "57525445070000000800000003000000"
     "d1000000a8adabba"},
    {"data to a new phone carries zero", make(kWrte, 7, 8, std::string_view("hi\0", 3)), kVersionSkipChecksum,
     "57525445070000000800000003000000"
     "00000000a8adabba"},
};

TEST(Packet, HeadersAreTheBytesOfTheProtocolDocument) {
  for (const auto& w : kWires) {
    EXPECT_EQ(hex(encode_header(w.packet, w.version)), w.hex) << w.name;
    for (std::size_t cut = 1; cut < 30; ++cut) {  // any cut of the stream gives the packet back
      Bytes stream = encode_header(w.packet, w.version);
      stream.insert(stream.end(), w.packet.payload.begin(), w.packet.payload.end());
      PacketReader reader(1u << 20);
      reader.set_limits(1u << 20, w.version);
      std::optional<Packet> got;
      for (std::size_t at = 0; at < stream.size(); at += cut) {
        reader.feed(ByteView(stream).subspan(at, std::min(cut, stream.size() - at)));
        auto r = reader.next();
        ASSERT_TRUE(r) << w.name;
        if (*r) got = **r;
      }
      EXPECT_EQ(got, w.packet) << w.name << " cut every " << cut;
    }
  }
}

struct Damage {
  const char* name;
  std::size_t byte;
  std::uint8_t value;
};
const Damage kDamages[] = {{"wrong magic", 20, 0x00},
                           {"wrong command", 0, 0x00},
                           {"huge length", 15, 0x7f},
                           {"wrong checksum", 16, 0xff},
                           {"damaged payload", 25, 0x00}};

TEST(Packet, DamageIsRefusedWithItsPlace) {
  const auto good = make(kOkay, 1, 2, "");
  for (const auto& d : kDamages) {
    const auto p = make(kCnxn, kVersionSkipChecksum, 4096, "device::");
    Bytes stream = encode_header(good, kVersionChecksum);
    Bytes bad = encode_header(p, kVersionChecksum);
    bad.insert(bad.end(), p.payload.begin(), p.payload.end());
    bad[d.byte] = d.value;
    stream.insert(stream.end(), bad.begin(), bad.end());
    PacketReader reader(4096);
    reader.feed(stream);
    ASSERT_TRUE(reader.next()) << d.name;
    const auto r = reader.next();
    ASSERT_FALSE(r) << d.name;
    EXPECT_EQ(r.error().code, ErrorCode::bad_format) << d.name;
    EXPECT_EQ(r.error().where, "byte 24 of the link") << d.name;
    reader.feed(encode_header(good, kVersionChecksum));
    EXPECT_FALSE(reader.next()) << d.name << ": stays in error";
  }
}

TEST(Packet, LengthAtTheMaximumPassesAndOneMoreDoesNot) {
  for (const std::size_t n : {std::size_t{4096}, std::size_t{4097}}) {
    const auto p = make(kWrte, 1, 1, std::string(n, 'x'));
    PacketReader reader(4096);
    reader.feed(encode_header(p, kVersionChecksum));
    reader.feed(p.payload);
    EXPECT_EQ(reader.next().has_value(), n == 4096);
  }
}

TEST(ShellPackets, FramesAreIdLengthData) {
  // AOSP shell_protocol.h: id byte, 4-byte little-endian length, data.
  EXPECT_EQ(hex(encode_shell(ShellId::err, as_bytes("ab"))),
            "0202000000"
            "6162");
  ShellReader reader;
  const auto frame = encode_shell(ShellId::exit, as_bytes(std::string_view("\x89", 1)));
  for (const auto& b : frame) {
    reader.feed(ByteView(&b, 1));
    const auto r = reader.next();
    ASSERT_TRUE(r);
    if (&b != &frame.back()) {
      EXPECT_FALSE(r->has_value());
    } else {
      ASSERT_TRUE(r->has_value());
      EXPECT_EQ((*r)->id, ShellId::exit);
      EXPECT_EQ((*r)->data, Bytes{0x89});
    }
  }
}

TEST(ShellPackets, UnknownIdsAndOversizeAreRefused) {
  for (const Bytes& bad : {Bytes{255, 0, 0, 0, 0}, Bytes{6, 0, 0, 0, 0}, Bytes{1, 0, 0, 0, 0x7f}}) {
    ShellReader reader(1000);
    reader.feed(bad);
    ASSERT_FALSE(reader.next());
    EXPECT_FALSE(reader.next());
  }
}
}  // namespace
}  // namespace hb::link
