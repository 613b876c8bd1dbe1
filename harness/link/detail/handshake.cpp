#include "harness/link/detail/handshake.hpp"

#include <algorithm>

#include "harness/base/text.hpp"

namespace hb::link::detail {
namespace {
constexpr std::uint32_t kAuthToken = 1, kAuthSignature = 2, kAuthPublicKey = 3;
/// A phone that asks more often than this after it was shown the key will not come round (our choice).
constexpr int kMaxTokens = 6;
/// An answer of a phone to CNXN fits into this much (protocol.txt: CNXN and AUTH must fit the old maximum).
constexpr std::size_t kMaxBanner = kMaxPayloadV1;

Error damaged(std::string what) {
  return Error{ErrorCode::bad_format, std::move(what), "opening of the link",
               "Unplug the cable and plug it in again."};
}

Bytes bytes_of(std::string_view text) { return Bytes(text.begin(), text.end()); }
}  // namespace

Banner parse_banner(std::string_view text) {
  while (!text.empty() && text.back() == '\0') text.remove_suffix(1);
  Banner out;
  const auto first = text.find(':');
  out.type = std::string(text.substr(0, first));
  if (first == std::string_view::npos) return out;
  const auto second = text.find(':', first + 1);
  if (second == std::string_view::npos) return out;
  for (const auto piece : split(text.substr(second + 1), ';')) {
    const auto equals = piece.find('=');
    if (equals == std::string_view::npos || piece.find('=', equals + 1) != std::string_view::npos) continue;
    const auto key = piece.substr(0, equals), value = piece.substr(equals + 1);
    if (key != "features") {
      out.properties.insert_or_assign(std::string(key), std::string(value));
      continue;
    }
    for (const auto f : split(value, ','))
      if (!f.empty()) out.features.emplace(f);
  }
  return out;
}

Handshake::Handshake(BenchRsaKey key, std::uint32_t max_payload, bool delayed_ack)
    : key_(std::move(key)),
      max_payload_(std::max(max_payload, static_cast<std::uint32_t>(kMaxPayloadV1))),
      own_features_{"shell_v2", "cmd"} {
  if (delayed_ack) own_features_.insert("delayed_ack");
}

Packet Handshake::hello() const {
  std::string banner = "host::features=";
  for (const auto& f : own_features_) {
    if (banner.back() != '=') banner += ',';
    banner += f;
  }
  Packet p;
  p.command = kCnxn;
  p.arg0 = kVersionSkipChecksum;
  p.arg1 = max_payload_;
  p.payload = bytes_of(banner);
  return p;
}

Result<std::optional<Packet>> Handshake::on_packet(const Packet& p) {
  if (p.command == kStls)
    return Error{ErrorCode::unsupported, "this connection to the phone wants encryption (wireless debugging)",
                 "opening of the link", "Use the USB cable, and turn wireless debugging off on the phone."};
  if (p.command == kAuth) return on_auth(p);
  if (p.command == kCnxn) return on_connect(p);
  return std::optional<Packet>{};
}

Result<std::optional<Packet>> Handshake::on_auth(const Packet& p) {
  if (p.arg0 != kAuthToken) return damaged("the phone's request for authorisation has an unknown kind");
  if (++tokens_ > kMaxTokens)
    return Error{ErrorCode::unauthorised, "the phone does not accept this bench's key", "authorisation",
                 "On the phone: Developer options, Revoke USB debugging authorisations; then plug in again."};
  Packet answer;
  answer.command = kAuth;
  if (tokens_ == 2) {  // the signature was not known there: show the public key, the owner decides
    answer.arg0 = kAuthPublicKey;
    answer.payload = bytes_of(key_.public_text());
    answer.payload.push_back(0);
    state_ = State::asking_owner;
    return std::optional<Packet>(std::move(answer));
  }
  auto signature = key_.sign(p.payload);
  if (!signature) return signature.error();
  answer.arg0 = kAuthSignature;
  answer.payload = std::move(*signature);
  return std::optional<Packet>(std::move(answer));
}

Result<std::optional<Packet>> Handshake::on_connect(const Packet& p) {
  if (p.payload.size() > kMaxBanner) return damaged("the phone's greeting is too long");
  if (p.arg0 < kVersionChecksum) return damaged("the phone speaks an unknown version of the link");
  if (p.arg1 < kMaxPayloadV1) return damaged("the phone takes packets smaller than the link allows");
  auto banner = parse_banner(as_text(p.payload));
  if (banner.type != "device")
    return Error{ErrorCode::unsupported, "the phone is not running its normal system", "opening of the link",
                 "Start the phone normally and wait for its home or lock screen."};
  agreed_.version = std::min(p.arg0, kVersionSkipChecksum);
  agreed_.max_payload = std::min(p.arg1, max_payload_);
  agreed_.banner = std::move(banner.properties);
  std::set_intersection(own_features_.begin(), own_features_.end(), banner.features.begin(),
                        banner.features.end(), std::inserter(agreed_.features, agreed_.features.end()));
  agreed_.delayed_ack = agreed_.features.contains("delayed_ack");
  state_ = State::online;
  return std::optional<Packet>{};
}
}  // namespace hb::link::detail
