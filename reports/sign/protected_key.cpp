// Layout, offsets in octets: 0 "HBKEY", 5 version (1), 6 passes (u64 little endian), 14 memory in octets (the
// same), 22 salt (16), 38 nonce (24), 62 public key (32), 94 box over the seed (48). The key of the box is
// Argon2id (RFC 9106, version 1.3) of the passphrase. The box authenticates the seed; the public key must
// belong to it; every other field leads to another key of the box, so no field can be changed unnoticed.
#include <algorithm>

#include "key_detail.hpp"

namespace hb::sign {
using detail::Locked;
namespace {
constexpr std::array<std::uint8_t, 5> kMagic{'H', 'B', 'K', 'E', 'Y'};
constexpr std::uint8_t kVersion = 1;
constexpr std::size_t kPasses = 6, kMemory = 14, kSalt = 22, kNonce = 38, kPublic = 62, kBox = 94;
constexpr std::size_t kSize = kBox + crypto_secretbox_MACBYTES + crypto_sign_SEEDBYTES;
static_assert(crypto_pwhash_argon2id_SALTBYTES == 16 && crypto_secretbox_NONCEBYTES == 24 && kSize == 142);
/// A file must not make its reader work for ever or take all memory.
constexpr std::uint64_t kMaxPasses = 64, kMaxOctets = std::uint64_t{1} << 30, kMinOctets = 8192;

std::uint64_t read_u64(ByteView b, std::size_t at) {
  std::uint64_t v = 0;
  for (std::size_t i = 8; i-- > 0;) v = v << 8 | b[at + i];
  return v;
}
void write_u64(Bytes& b, std::size_t at, std::uint64_t v) {
  for (std::size_t i = 0; i < 8; ++i, v >>= 8) b[at + i] = static_cast<std::uint8_t>(v & 0xff);
}

bool bearable(const PassphraseCost& c) {
  return c.passes >= 1 && c.passes <= kMaxPasses && c.octets >= kMinOctets && c.octets <= kMaxOctets &&
         c.octets % 1024 == 0;  // Argon2 counts and hashes KiB: a part of one would change unnoticed
}

/// False when the memory cannot be had.
bool derive(Locked& key, const Passphrase& p, const std::uint8_t* salt, const PassphraseCost& cost) {
  const auto text = p.view();
  return crypto_pwhash(key.data(), key.size(), text.data(), text.size(), salt, cost.passes,
                       static_cast<std::size_t>(cost.octets), crypto_pwhash_ALG_ARGON2ID13) == 0;
}

Error no_memory(const std::string& where) {
  return Error{ErrorCode::io, "there is not enough memory to work on the passphrase", where,
               "Close other programs and try again."};
}
}  // namespace

struct Passphrase::Locked {
  detail::Locked text{kMax};
  std::size_t size = 0;
};

Result<Passphrase> Passphrase::of(std::string_view text) {
  if (text.empty() || text.size() > kMax)
    return Error{ErrorCode::invalid_argument, "a passphrase has 1 to 1024 octets", "passphrase",
                 "Choose another."};
  auto locked = std::make_shared<Locked>();
  std::copy(text.begin(), text.end(), locked->text.data());
  locked->size = text.size();
  Passphrase p;
  p.locked_ = std::move(locked);
  return p;
}

std::string_view Passphrase::view() const noexcept {
  return {reinterpret_cast<const char*>(locked_->text.data()), locked_->size};
}

void wipe(std::string& text) noexcept {
  sodium_memzero(text.data(), text.size());
  text.clear();
}

bool detail::is_protected(ByteView content) noexcept {
  return content.size() > kMagic.size() && std::equal(kMagic.begin(), kMagic.end(), content.begin());
}

Result<SigningKey> detail::open_protected(ByteView content, const Passphrase& passphrase,
                                          const std::string& where) {
  const Error damaged{ErrorCode::bad_format, "the protected key file is damaged", where,
                      "Restore the key file from its backup."};
  if (content[kMagic.size()] != kVersion)
    return Error{ErrorCode::unsupported, "the key file was made by a newer program", where,
                 "Use that program."};
  if (content.size() != kSize) return damaged;
  const PassphraseCost cost{read_u64(content, kPasses), read_u64(content, kMemory)};
  if (!bearable(cost)) return damaged;
  Locked key(crypto_secretbox_KEYBYTES), seed(crypto_sign_SEEDBYTES);
  if (!derive(key, passphrase, content.data() + kSalt, cost)) return no_memory(where);
  if (crypto_secretbox_open_easy(seed.data(), content.data() + kBox, kSize - kBox, content.data() + kNonce,
                                 key.data()) != 0)
    return Error{ErrorCode::unauthorised, "the passphrase is wrong, or the key file is damaged", where,
                 "Type it again; if it is right, restore the file from its backup."};
  auto out = SigningKey::from_seed(seed.view());
  const auto stated = content.subspan(kPublic, 32);
  if (!out || !std::equal(stated.begin(), stated.end(), out->public_key().raw().begin())) return damaged;
  return out;
}

Result<void> SigningKey::save(const std::filesystem::path& file, const Passphrase& passphrase,
                              PassphraseCost cost) const {
  if (!bearable(cost))
    return Error{ErrorCode::invalid_argument, "this cost of a passphrase is outside its bounds",
                 file.string(), "Use the default."};
  Bytes content(kSize);
  std::copy(kMagic.begin(), kMagic.end(), content.begin());
  content[kMagic.size()] = kVersion;
  write_u64(content, kPasses, cost.passes);
  write_u64(content, kMemory, cost.octets);
  randombytes_buf(content.data() + kSalt, kPublic - kSalt);
  std::copy(public_key().raw().begin(), public_key().raw().end(), content.begin() + kPublic);
  Locked key(crypto_secretbox_KEYBYTES);
  if (!derive(key, passphrase, content.data() + kSalt, cost)) return no_memory(file.string());
  crypto_secretbox_easy(content.data() + kBox, seed().data(), seed().size(), content.data() + kNonce,
                        key.data());
  return detail::write_secret_file(file, content);
}
}  // namespace hb::sign
