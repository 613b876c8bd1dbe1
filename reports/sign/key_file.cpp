#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>

#include "key_detail.hpp"

namespace hb::sign {
using detail::Locked;
namespace {
constexpr std::size_t kMaxFile = 4096;

/// Closes on every way out.
struct Fd {
  int fd = -1;
  explicit Fd(int f) : fd(f) {}
  Fd(const Fd&) = delete;
  Fd& operator=(const Fd&) = delete;
  ~Fd() {
    if (fd >= 0) ::close(fd);
  }
};

/// Others have no bit; the group none either, except where systemd keeps credentials.
bool only_the_owners(const std::filesystem::path& file, mode_t mode) {
  const char* credentials = std::getenv("CREDENTIALS_DIRECTORY");
  const bool handed_over = credentials != nullptr && file.parent_path() == credentials;
  return (mode & (handed_over ? 037U : 077U)) == 0;
}

bool is_space(std::uint8_t c) { return c == ' ' || c == '\t' || c == '\n' || c == '\r'; }

/// Where the 43 characters of "d" stand in the JWK, if it is there once.
std::optional<std::size_t> secret_at(std::string_view jwk) {
  constexpr std::string_view name = "\"d\"";
  constexpr std::size_t length = 43;
  auto at = jwk.find(name);
  if (at == std::string_view::npos || jwk.find(name, at + 1) != std::string_view::npos) return std::nullopt;
  at += name.size();
  const auto skip = [&] {
    while (at < jwk.size() && is_space(static_cast<std::uint8_t>(jwk[at]))) ++at;
  };
  skip();
  if (at >= jwk.size() || jwk[at] != ':') return std::nullopt;
  ++at;
  skip();
  if (jwk.size() - at < length + 2 || jwk[at] != '"' || jwk[at + 1 + length] != '"') return std::nullopt;
  return at + 1;
}

/// Reads the JWK without its secret ever passing through a JSON library, whose copies nobody wipes.
Result<SigningKey> from_private_jwk(Locked& text, std::size_t size, const std::string& where) {
  const Error bad{ErrorCode::bad_format, "this is no private key of a bench", where,
                  "Restore the key file from its backup."};
  auto* chars = reinterpret_cast<char*>(text.data());
  const auto at = secret_at({chars, size});
  if (!at) return bad;
  Locked seed(crypto_sign_SEEDBYTES);
  std::size_t n = 0;
  const char* end = nullptr;
  if (sodium_base642bin(seed.data(), seed.size(), chars + *at, 43, nullptr, &n, &end,
                        sodium_base64_VARIANT_URLSAFE_NO_PADDING) != 0 ||
      n != seed.size() || end != chars + *at + 43)
    return bad;
  constexpr std::string_view hidden = "\"d\"";
  std::string without(chars, *at);
  without.append(43, 'A');
  without.append(chars + *at + 43, size - *at - 43);
  without.replace(without.find(hidden), hidden.size(), "\"D\"");
  const auto named = PublicKey::from_jwk(without);
  if (!named) return bad;
  auto key = SigningKey::from_seed(seed.view());
  if (!key || !(key->public_key() == *named)) return bad;
  return key;
}
}  // namespace

Result<SigningKey> SigningKey::load(const std::filesystem::path& file, const Ask& ask) {
  const auto where = file.string();
  const Fd in(::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
  if (in.fd < 0 && errno == ENOENT)
    return Error{ErrorCode::not_found, "there is no key file", where, "Make one with `handback bench init`."};
  struct stat st {};
  if (in.fd < 0 || ::fstat(in.fd, &st) != 0)
    return Error{ErrorCode::io, "the key file cannot be opened", where,
                 "Check the path and its permissions."};
  if (!S_ISREG(st.st_mode) || !only_the_owners(file, st.st_mode))
    return Error{ErrorCode::refused, "the key file can be read by others", where,
                 "Run `chmod 600` on it; make a new key if others use this computer."};
  Locked text(kMaxFile);
  const auto n = ::read(in.fd, text.data(), text.size());
  if (n < 0) return Error{ErrorCode::io, "the key file cannot be read", where, "Check the disk."};
  const auto size = static_cast<std::size_t>(n);
  if (!detail::is_protected(text.view().first(size))) return from_private_jwk(text, size, where);
  if (!ask)
    return Error{ErrorCode::unauthorised, "the key is protected by a passphrase", where,
                 "Give it with --passphrase-fd, or work at a terminal."};
  const auto passphrase = ask(file);
  if (!passphrase) return passphrase.error();
  return detail::open_protected(text.view().first(size), *passphrase, where);
}

Result<void> detail::write_secret_file(const std::filesystem::path& file, ByteView content) {
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
  const auto n = ::write(out.fd, content.data(), content.size());
  bool ok = n == static_cast<ssize_t>(content.size()) && ::fchmod(out.fd, 0600) == 0 && ::fsync(out.fd) == 0;
  const auto folder = file.has_parent_path() ? file.parent_path() : std::filesystem::path(".");
  const Fd dir(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  ok = ok && dir.fd >= 0 && ::fsync(dir.fd) == 0;
  if (!ok) {
    ::unlink(file.c_str());
    return failed();
  }
  return {};
}

Result<void> SigningKey::save(const std::filesystem::path& file) const {
  constexpr std::size_t kEncoded = 44;  // 43 characters and the end that libsodium writes
  Locked encoded(kEncoded);
  auto* d = reinterpret_cast<char*>(encoded.data());
  sodium_bin2base64(d, kEncoded, seed().data(), seed().size(), sodium_base64_VARIANT_URLSAFE_NO_PADDING);
  const std::string head = R"({"crv":"Ed25519","d":")",
                    tail = R"(","kty":"OKP","x":")" + base64url(public_key().raw()) + "\"}\n";
  Locked text(head.size() + kEncoded - 1 + tail.size());
  auto* at = std::copy(head.begin(), head.end(), text.data());
  at = std::copy(d, d + kEncoded - 1, at);
  std::copy(tail.begin(), tail.end(), at);
  return detail::write_secret_file(file, text.view());
}
}  // namespace hb::sign
