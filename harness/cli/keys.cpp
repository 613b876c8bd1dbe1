#include "keys.hpp"

#include <fcntl.h>
#include <termios.h>
#include <unistd.h>

#include <cerrno>

#include "home.hpp"

namespace hb::cli {
namespace {
constexpr std::size_t kMaxTyped = sign::Passphrase::kMax + 1;

struct Fd {
  int fd;
  explicit Fd(int f) : fd(f) {}
  Fd(const Fd&) = delete;
  Fd& operator=(const Fd&) = delete;
  ~Fd() {
    if (fd >= 0) ::close(fd);
  }
};

/// Wiped on every way out; its room never moves.
struct Typed {
  std::string text;
  Typed() { text.reserve(kMaxTyped + 1); }
  Typed(const Typed&) = delete;
  Typed& operator=(const Typed&) = delete;
  ~Typed() { sign::wipe(text); }
};

/// No echo, and every key comes to us, until the object goes.
class Silent {
 public:
  explicit Silent(int fd) : fd_(fd), good_(::tcgetattr(fd, &before_) == 0) {
    if (!good_) return;
    termios quiet = before_;
    quiet.c_lflag &= ~static_cast<tcflag_t>(ECHO | ECHONL | ICANON | ISIG);
    good_ = ::tcsetattr(fd, TCSAFLUSH, &quiet) == 0;
  }
  Silent(const Silent&) = delete;
  Silent& operator=(const Silent&) = delete;
  ~Silent() {
    if (good_) ::tcsetattr(fd_, TCSAFLUSH, &before_);
  }
  [[nodiscard]] bool good() const { return good_; }

 private:
  int fd_;
  termios before_{};
  bool good_;
};

void rub_out(std::string& text) {
  const auto follows = [](char c) { return (static_cast<unsigned char>(c) & 0xC0) == 0x80; };
  while (!text.empty() && follows(text.back())) text.pop_back();
  if (!text.empty()) text.pop_back();
}

Result<char> next_char(int fd) {
  char c = 0;
  ssize_t n = 0;
  do n = ::read(fd, &c, 1);
  while (n < 0 && errno == EINTR);
  if (n < 0)
    return Error{ErrorCode::io, "the passphrase cannot be read", "passphrase", "Check --passphrase-fd."};
  return n == 0 ? '\n' : c;
}

Result<sign::Passphrase> type_in(const std::string& prompt) {
  const Fd tty(::open("/dev/tty", O_RDWR | O_CLOEXEC | O_NOCTTY));
  if (tty.fd < 0)
    return Error{ErrorCode::unauthorised, "a passphrase is needed and there is no terminal to ask at",
                 "passphrase", "Give it with --passphrase-fd N."};
  const Silent silent(tty.fd);
  if (!silent.good())
    return Error{ErrorCode::io, "the terminal cannot be kept from showing the passphrase", "passphrase",
                 "Give it with --passphrase-fd N."};
  const auto show = [&](std::string_view s) { return ::write(tty.fd, s.data(), s.size()) >= 0; };
  Typed typed;
  if (!show(prompt)) return Error{ErrorCode::io, "the terminal cannot be written", "passphrase", ""};
  for (;;) {
    const auto c = next_char(tty.fd);
    if (!c) return c.error();
    if (*c == '\n' || *c == '\r') break;
    if (*c == 3 || *c == 4 || *c == 26 || *c == 28) {
      (void)show("\n");
      return Error{ErrorCode::cancelled, "no passphrase was given", "passphrase", ""};
    }
    if (*c == 8 || *c == 127)
      rub_out(typed.text);
    else if (typed.text.size() < kMaxTyped)
      typed.text += *c;
  }
  (void)show("\n");
  return sign::Passphrase::of(typed.text);
}

Result<sign::Passphrase> read_line(int fd) {
  Typed line;
  for (;;) {
    const auto c = next_char(fd);
    if (!c) return c.error();
    if (*c == '\n') break;
    if (line.text.size() < kMaxTyped) line.text += *c;
  }
  return sign::Passphrase::of(line.text);
}
}  // namespace

Result<sign::Passphrase> KeyAccess::ask(const std::string& prompt) {
  return passphrase_fd >= 0 ? read_line(passphrase_fd) : type_in(prompt);
}

Result<sign::SigningKey> KeyAccess::open(const fs::path& file) {
  if (const auto it = opened_.find(file.string()); it != opened_.end()) return it->second;
  auto key = sign::SigningKey::load(
      file, [this](const fs::path& f) { return ask("Passphrase of " + f.string() + ": "); });
  if (key) opened_.emplace(file.string(), *key);
  return key;
}

Result<sign::Passphrase> KeyAccess::new_passphrase(const fs::path& file) {
  auto first = ask("New passphrase for " + file.string() + ": ");
  if (!first || passphrase_fd >= 0) return first;
  const auto second = ask("Once more: ");
  if (!second) return second;
  if (first->view() != second->view())
    return Error{ErrorCode::invalid_argument, "the two passphrases differ", "passphrase", "Try again."};
  return first;
}

Result<void> save_key(const Home& home, const sign::SigningKey& key, const fs::path& file, bool protect) {
  if (!protect) return key.save(file);
  const auto passphrase = home.keys().new_passphrase(file);
  if (!passphrase) return passphrase.error();
  return key.save(file, *passphrase);
}

Result<void> replace_key(const Home& home, const sign::SigningKey& key, const fs::path& file, bool protect) {
  const auto next = file.string() + ".next";
  std::error_code ec;
  fs::remove(next, ec);  // of a run that was cut off
  if (auto r = save_key(home, key, next, protect); !r) return r;
  fs::rename(next, file, ec);
  if (ec) return Error{ErrorCode::io, "the key file cannot be replaced", file.string(), "Check the folder."};
  return {};
}

Result<std::string> key_id_of(const fs::path& file) {
  constexpr std::size_t kPublicAt = 94 - 32;  // of a protected file: reports/sign/README.md
  auto text = read_file(file, 65536);
  if (!text) return text.error();
  Result<sign::PublicKey> key = Error{ErrorCode::bad_format, "this is no private key", file.string(), ""};
  if (text->starts_with("HBKEY")) {
    if (text->size() >= kPublicAt + 32)
      key = sign::PublicKey::from_raw(as_bytes(std::string_view(*text).substr(kPublicAt, 32)));
  } else if (auto j = nlohmann::json::parse(*text, nullptr, false); j.is_object()) {
    j.erase("d");
    key = sign::PublicKey::from_jwk(j.dump());
  }
  sign::wipe(*text);
  return key ? Result<std::string>(key->thumbprint()) : key.error();
}

bool is_protected_file(const fs::path& file) {
  const auto head = read_file(file, 65536);
  return head && head->starts_with("HBKEY");
}
}  // namespace hb::cli
