// Bytes from a phone: packets, shell packets, the greeting and the answer about a port. First byte: how the
// rest is cut. Any cut of the same bytes must give the same packets, and what was read writes back the same.
#include <cstdlib>
#include <vector>

#include "harness/link/detail/handshake.hpp"
#include "harness/link/detail/reverse.hpp"
#include "harness/link/packet.hpp"

namespace {
using namespace hb;
using namespace hb::link;

void require(bool holds) {
  if (!holds) std::abort();
}

template <class Reader, class Each>
void read_all(Reader& reader, ByteView bytes, std::size_t cut, Each each) {
  for (std::size_t at = 0; at < bytes.size(); at += cut) {
    reader.feed(bytes.subspan(at, std::min(cut, bytes.size() - at)));
    for (;;) {
      const auto p = reader.next();
      if (!p) return require(!reader.next());
      if (!*p) break;
      each(**p);
    }
  }
}

std::vector<Packet> packets(ByteView bytes, std::size_t cut, std::uint32_t version) {
  std::vector<Packet> out;
  PacketReader reader(1u << 16);
  reader.set_limits(1u << 16, version);
  read_all(reader, bytes, cut, [&](const Packet& p) { out.push_back(p); });
  return out;
}

Bytes shell_bytes(ByteView bytes, std::size_t cut) {
  Bytes out;
  ShellReader reader(1u << 16);
  read_all(reader, bytes, cut, [&](const ShellPacket& p) {
    const auto again = encode_shell(p.id, p.data);
    out.insert(out.end(), again.begin(), again.end());
  });
  return out;
}
}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  if (size == 0) return 0;
  const std::size_t cut = 1u + data[0] % 64u;
  const ByteView bytes(data + 1, size - 1);
  for (const auto version : {kVersionChecksum, kVersionSkipChecksum}) {
    const auto all = packets(bytes, cut, version);
    require(all == packets(bytes, std::max<std::size_t>(bytes.size(), 1), version));
    Bytes again;
    for (const auto& p : all) {
      const auto header = encode_header(p, kVersionChecksum);
      again.insert(again.end(), header.begin(), header.end());
      again.insert(again.end(), p.payload.begin(), p.payload.end());
    }
    if (version == kVersionChecksum)
      require(again.size() <= bytes.size() && std::equal(again.begin(), again.end(), bytes.begin()));
  }
  const auto shell = shell_bytes(bytes, cut);
  require(shell.size() <= bytes.size() && std::equal(shell.begin(), shell.end(), bytes.begin()));
  const auto banner = detail::parse_banner(as_text(bytes));
  require(banner.properties.size() <= size && !banner.properties.contains("features"));
  static_cast<void>(detail::parse_forward_answer(as_text(bytes), 0));
  return 0;
}
