#include <fcntl.h>
#include <sodium.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <stdexcept>

#include "reports/sign/sign.hpp"

namespace hb::sign {
namespace {
void start_sodium() {
  if (sodium_init() < 0) throw std::runtime_error("the cryptography library does not start");
}

/// Closes on every way out.
struct Fd {
  int fd = -1;
  Fd() = default;
  explicit Fd(int f) : fd(f) {}
  Fd(const Fd&) = delete;
  Fd& operator=(const Fd&) = delete;
  ~Fd() {
    if (fd >= 0) ::close(fd);
  }
};

/// Text that is wiped when it goes out of scope.
struct Wiped {
  std::string text;
  Wiped() = default;
  Wiped(const Wiped&) = delete;
  Wiped& operator=(const Wiped&) = delete;
  ~Wiped() { sodium_memzero(text.data(), text.size()); }
};

Result<Bytes> octets_of(const nlohmann::json& jwk, const char* member) {
  const Error bad{ErrorCode::bad_format, std::string("a JWK's \"") + member + "\" is not 32 octets", "", ""};
  const auto it = jwk.find(member);
  if (it == jwk.end() || !it->is_string()) return bad;
  auto octets = from_base64url(it->get_ref<const std::string&>());
  if (!octets || octets->size() != 32) return bad;
  return octets;
}

Result<nlohmann::json> okp(std::string_view json_text) {
  auto jwk = record::parse_strict(json_text);
  if (!jwk) return std::move(jwk).error();
  if (!jwk->is_object() || jwk->value("kty", nlohmann::json()) != "OKP" ||
      jwk->value("crv", nlohmann::json()) != "Ed25519")
    return Error{ErrorCode::bad_format, "this is not an Ed25519 key in JWK form", "", ""};
  return jwk;
}
}  // namespace

// ---------------------------------------------------------------- public

Result<PublicKey> PublicKey::from_raw(ByteView octets) {
  if (octets.size() != 32) return Error{ErrorCode::bad_format, "a public key has 32 octets", "", ""};
  PublicKey k;
  std::copy(octets.begin(), octets.end(), k.octets_.begin());
  return k;
}

Result<PublicKey> PublicKey::from_jwk(std::string_view json_text) {
  auto jwk = okp(json_text);
  if (!jwk) return std::move(jwk).error();
  if (jwk->contains("d"))
    return Error{ErrorCode::refused, "this file holds a private key", "",
                 "Put the public key here and keep the private one on its bench."};
  auto x = octets_of(*jwk, "x");
  if (!x) return std::move(x).error();
  return from_raw(*x);
}

std::string PublicKey::jwk() const {
  return R"({"crv":"Ed25519","kty":"OKP","x":")" + base64url(octets_) + "\"}";
}

std::string PublicKey::thumbprint() const { return base64url(sha256(as_bytes(jwk()))); }

bool PublicKey::verifies(ByteView message, ByteView signature) const noexcept {
  return signature.size() == crypto_sign_BYTES &&
         crypto_sign_verify_detached(signature.data(), message.data(), message.size(), octets_.data()) == 0;
}

// ---------------------------------------------------------------- private

struct SigningKey::Secret {
  std::array<std::uint8_t, crypto_sign_SECRETKEYBYTES> key{};  ///< seed, then public key
  PublicKey public_key;
  std::string key_id;
  Secret() = default;
  Secret(const Secret&) = delete;
  Secret& operator=(const Secret&) = delete;
  ~Secret() { sodium_memzero(key.data(), key.size()); }
};

SigningKey SigningKey::make() {
  start_sodium();
  std::array<std::uint8_t, crypto_sign_SEEDBYTES> seed{};
  randombytes_buf(seed.data(), seed.size());
  auto key = from_seed(seed);
  sodium_memzero(seed.data(), seed.size());
  return std::move(key).value();
}

Result<SigningKey> SigningKey::from_seed(ByteView seed) {
  start_sodium();
  if (seed.size() != crypto_sign_SEEDBYTES)
    return Error{ErrorCode::bad_format, "a private key has 32 octets", "", ""};
  auto secret = std::make_shared<Secret>();
  std::array<std::uint8_t, crypto_sign_PUBLICKEYBYTES> pub{};
  crypto_sign_seed_keypair(pub.data(), secret->key.data(), seed.data());
  secret->public_key = PublicKey::from_raw(pub).value();
  secret->key_id = secret->public_key.thumbprint();
  SigningKey out;
  out.secret_ = std::move(secret);
  return out;
}

const PublicKey& SigningKey::public_key() const noexcept { return secret_->public_key; }
const std::string& SigningKey::key_id() const noexcept { return secret_->key_id; }

Bytes SigningKey::sign(ByteView message) const {
  Bytes s(crypto_sign_BYTES);
  crypto_sign_detached(s.data(), nullptr, message.data(), message.size(), secret_->key.data());
  return s;
}

Result<SigningKey> SigningKey::load(const std::filesystem::path& file) {
  const auto where = file.string();
  const Fd in(::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
  if (in.fd < 0 && errno == ENOENT)
    return Error{ErrorCode::not_found, "there is no key file", where, "Make one with `handback setup`."};
  struct stat st {};
  if (in.fd < 0 || ::fstat(in.fd, &st) != 0)
    return Error{ErrorCode::io, "the key file cannot be opened", where,
                 "Check the path and its permissions."};
  if (!S_ISREG(st.st_mode) || (st.st_mode & 077) != 0)
    return Error{ErrorCode::refused, "the key file can be read by others", where,
                 "Run `chmod 600` on it; make a new key if others use this computer."};
  Wiped text;
  text.text.resize(4096);
  const auto n = ::read(in.fd, text.text.data(), text.text.size());
  if (n < 0) return Error{ErrorCode::io, "the key file cannot be read", where, "Check the disk."};
  const Error bad{ErrorCode::bad_format, "this is no private key of a bench", where,
                  "Restore the key file from its backup."};
  const auto jwk = okp(std::string_view(text.text).substr(0, static_cast<std::size_t>(n)));
  if (!jwk) return bad;
  auto d = octets_of(*jwk, "d");
  const auto x = octets_of(*jwk, "x");
  if (!d || !x) return bad;
  auto key = from_seed(*d);
  sodium_memzero(d->data(), d->size());
  if (!std::equal(x->begin(), x->end(), key->public_key().raw().begin())) return bad;
  return key;
}

Result<void> SigningKey::save(const std::filesystem::path& file) const {
  const auto where = file.string();
  const Fd out(::open(file.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, 0600));
  if (out.fd < 0 && errno == EEXIST)
    return Error{ErrorCode::refused, "a key file is there already and is not overwritten", where,
                 "Choose another name, or move the old key away."};
  const auto failed = [&] {
    return Error{ErrorCode::io, "the key file cannot be written", where,
                 "Check the folder, its permissions and the disk."};
  };
  if (out.fd < 0) return failed();
  Wiped text;
  text.text = R"({"crv":"Ed25519","d":")";
  text.text += base64url(ByteView(secret_->key).first(crypto_sign_SEEDBYTES));
  text.text += R"(","kty":"OKP","x":")" + base64url(public_key().raw()) + "\"}\n";
  const auto n = ::write(out.fd, text.text.data(), text.text.size());
  bool ok =
      n == static_cast<ssize_t>(text.text.size()) && ::fchmod(out.fd, 0600) == 0 && ::fsync(out.fd) == 0;
  const auto folder = file.has_parent_path() ? file.parent_path() : std::filesystem::path(".");
  const Fd dir(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  ok = ok && dir.fd >= 0 && ::fsync(dir.fd) == 0;
  if (!ok) {
    ::unlink(file.c_str());
    return failed();
  }
  return {};
}
}  // namespace hb::sign
