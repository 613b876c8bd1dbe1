#include <fcntl.h>
#include <fmt/format.h>
#include <openssl/bn.h>
#include <openssl/core_names.h>
#include <openssl/crypto.h>
#include <openssl/evp.h>
#include <openssl/pem.h>
#include <openssl/rsa.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <utility>

#include "harness/link/link.hpp"

namespace hb::link {
namespace {
constexpr int kKeyBits = 2048;
constexpr std::size_t kModulusBytes = kKeyBits / 8, kModulusWords = kModulusBytes / 4, kTokenBytes = 20;
constexpr std::size_t kMaxKeyFile = 64u << 10;

template <auto Free>
struct Freer {
  template <class T>
  void operator()(T* p) const noexcept {
    Free(p);
  }
};
using Pkey = std::unique_ptr<EVP_PKEY, Freer<EVP_PKEY_free>>;
using PkeyCtx = std::unique_ptr<EVP_PKEY_CTX, Freer<EVP_PKEY_CTX_free>>;
using Bignum = std::unique_ptr<BIGNUM, Freer<BN_free>>;
using BignumCtx = std::unique_ptr<BN_CTX, Freer<BN_CTX_free>>;
using Bio = std::unique_ptr<BIO, Freer<BIO_free_all>>;

class File {
 public:
  explicit File(int fd) noexcept : fd_(fd) {}
  File(File&& o) noexcept : fd_(std::exchange(o.fd_, -1)) {}
  File& operator=(File&&) = delete;
  ~File() {
    if (fd_ >= 0) ::close(fd_);
  }
  [[nodiscard]] int get() const noexcept { return fd_; }
  explicit operator bool() const noexcept { return fd_ >= 0; }

 private:
  int fd_;
};

Error io_error(std::string_view doing, const std::filesystem::path& file, int error_number) {
  return Error{ErrorCode::io,
               fmt::format("cannot {} the bench's link key: {}", doing, std::strerror(error_number)),
               file.string(), "Check that the folder exists, is yours and has room."};
}

Error key_defect(std::string_view what) {
  return Error{ErrorCode::internal, fmt::format("the cryptographic library refused to {}", what), "link key",
               ""};
}

Bignum number_of(EVP_PKEY* key, const char* name) {
  BIGNUM* n = nullptr;
  if (EVP_PKEY_get_bn_param(key, name, &n) != 1) return nullptr;
  return Bignum(n);
}

/// Stops the library from asking for a pass phrase on the terminal.
int no_pass_phrase(char*, int, int, void*) { return -1; }

Result<Pkey> parse_key(ByteView pem, const std::filesystem::path& file) {
  const auto bad = [&](std::string_view what) {
    return Error{
        ErrorCode::bad_format, fmt::format("the link key file {}", what), file.string(),
        "Move it away: a new key is made on the next start, and each phone asks its owner once more."};
  };
  const Bio bio(BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size())));
  Pkey key(PEM_read_bio_PrivateKey(bio.get(), nullptr, no_pass_phrase, nullptr));
  if (!key) return bad("holds no private key in PEM form");
  if (EVP_PKEY_is_a(key.get(), "RSA") != 1 || EVP_PKEY_get_bits(key.get()) != kKeyBits)
    return bad("does not hold an RSA key of 2048 bits");
  return key;
}

Result<Bytes> read_private(const File& f, const std::filesystem::path& file) {
  struct stat st {};
  if (::fstat(f.get(), &st) != 0) return io_error("read", file, errno);
  if (!S_ISREG(st.st_mode) || st.st_size < 0 || static_cast<std::size_t>(st.st_size) > kMaxKeyFile)
    return Error{ErrorCode::bad_format, "the link key is not an ordinary small file", file.string(),
                 "Name another file."};
  if ((st.st_mode & (S_IRWXG | S_IRWXO)) != 0)
    return Error{ErrorCode::refused, "the link key can be read by other users of this computer",
                 file.string(),
                 "Run: chmod 600 FILE. If others may have read it, move it away and a new one is made."};
  Bytes bytes(static_cast<std::size_t>(st.st_size));
  std::size_t got = 0;
  while (got < bytes.size()) {
    const auto n = ::read(f.get(), bytes.data() + got, bytes.size() - got);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return io_error("read", file, errno);
    if (n == 0) break;
    got += static_cast<std::size_t>(n);
  }
  bytes.resize(got);
  return bytes;
}

Result<void> write_all(const File& f, ByteView bytes, const std::filesystem::path& file) {
  while (!bytes.empty()) {
    const auto n = ::write(f.get(), bytes.data(), bytes.size());
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return io_error("write", file, errno);
    bytes = bytes.subspan(static_cast<std::size_t>(n));
  }
  if (::fsync(f.get()) != 0) return io_error("write", file, errno);
  return {};
}

/// Writes beside the final name and links it there, so that a power cut leaves the whole key or none, and
/// two programs starting together end with one key. True: made here; false: somebody was faster.
Result<bool> publish(ByteView pem, const std::filesystem::path& file) {
  auto draft = file;
  draft += fmt::format(".{}.new", ::getpid());
  const File f(::open(draft.c_str(), O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC, S_IRUSR | S_IWUSR));
  if (!f) return io_error("make", draft, errno);
  const auto written = write_all(f, pem, draft);
  const int linked = written ? ::link(draft.c_str(), file.c_str()) : -1;
  const int why = errno;
  ::unlink(draft.c_str());
  if (!written) return written.error();
  if (linked != 0 && why == EEXIST) return false;
  if (linked != 0) return io_error("make", file, why);
  const auto folder = file.has_parent_path() ? file.parent_path() : std::filesystem::path(".");
  const File d(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (d) static_cast<void>(::fsync(d.get()));  // some file systems cannot: then the key is made again
  return true;
}

Result<Bytes> new_key_pem() {
  const Pkey key(EVP_RSA_gen(kKeyBits));
  const Bio bio(BIO_new(BIO_s_secmem()));
  if (!key || !bio ||
      PEM_write_bio_PKCS8PrivateKey(bio.get(), key.get(), nullptr, nullptr, 0, nullptr, nullptr) != 1)
    return key_defect("make a key");
  char* data = nullptr;
  const auto n = BIO_get_mem_data(bio.get(), &data);
  return Bytes(data, data + n);
}

void put_le(Bytes& out, const BIGNUM* n, std::size_t size) {
  Bytes bytes(size);
  BN_bn2lebinpad(n, bytes.data(), static_cast<int>(size));
  out.insert(out.end(), bytes.begin(), bytes.end());
}
}  // namespace

struct BenchRsaKey::Impl {
  Pkey key;
  Bytes public_struct;
};

namespace {
/// Words, n0inv = -1 / n mod 2^32, n, rr = (2^2048)^2 mod n, exponent; all little-endian (AOSP
/// libcrypto_utils/android_pubkey.cpp: struct RSAPublicKey).
Result<Bytes> make_public_struct(EVP_PKEY* key) {
  const auto n = number_of(key, OSSL_PKEY_PARAM_RSA_N), e = number_of(key, OSSL_PKEY_PARAM_RSA_E);
  const BignumCtx ctx(BN_CTX_new());
  const Bignum word(BN_new()), low(BN_new()), inverse(BN_new()), rr(BN_new());
  if (!n || !e || !ctx || !word || !low || !inverse || !rr) return key_defect("show the public key");
  const bool fine =
      BN_set_bit(word.get(), 32) == 1 && BN_mod(low.get(), n.get(), word.get(), ctx.get()) == 1 &&
      BN_mod_inverse(inverse.get(), low.get(), word.get(), ctx.get()) != nullptr &&
      BN_sub(inverse.get(), word.get(), inverse.get()) == 1 && BN_set_bit(rr.get(), 2 * kKeyBits) == 1 &&
      BN_mod(rr.get(), rr.get(), n.get(), ctx.get()) == 1;
  if (!fine || BN_num_bits(e.get()) > 32) return key_defect("describe the public key");
  Bytes out;
  out.reserve(3 * 4 + 2 * kModulusBytes);
  BN_set_word(word.get(), kModulusWords);
  put_le(out, word.get(), 4);
  put_le(out, inverse.get(), 4);
  put_le(out, n.get(), kModulusBytes);
  put_le(out, rr.get(), kModulusBytes);
  put_le(out, e.get(), 4);
  return out;
}
}  // namespace

Result<BenchRsaKey> BenchRsaKey::load_or_make(const std::filesystem::path& file) {
  const auto open_existing = [&] { return File(::open(file.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK)); };
  auto f = std::make_unique<File>(open_existing());
  if (!*f && errno == ENOENT) {
    std::error_code ignored;
    if (file.has_parent_path() && std::filesystem::create_directories(file.parent_path(), ignored))
      std::filesystem::permissions(file.parent_path(), std::filesystem::perms::owner_all, ignored);
    auto pem = new_key_pem();
    if (!pem) return pem.error();
    const auto made = publish(*pem, file);
    OPENSSL_cleanse(pem->data(), pem->size());
    if (!made) return made.error();
    f = std::make_unique<File>(open_existing());
  }
  if (!*f) return io_error("open", file, errno);
  auto pem = read_private(*f, file);
  if (!pem) return pem.error();
  auto key = parse_key(*pem, file);
  OPENSSL_cleanse(pem->data(), pem->size());
  if (!key) return key.error();
  auto described = make_public_struct(key->get());
  if (!described) return described.error();
  auto impl = std::make_shared<Impl>();
  impl->key = std::move(*key);
  impl->public_struct = std::move(*described);
  BenchRsaKey out;
  out.impl_ = std::move(impl);
  return out;
}

Result<Bytes> BenchRsaKey::sign(ByteView token) const {
  if (token.size() != kTokenBytes)
    return Error{ErrorCode::bad_format, "the phone's question has the wrong length", "authorisation", ""};
  const PkeyCtx ctx(EVP_PKEY_CTX_new(impl_->key.get(), nullptr));
  Bytes signature(kModulusBytes);
  std::size_t size = signature.size();
  if (!ctx || EVP_PKEY_sign_init(ctx.get()) != 1 ||
      EVP_PKEY_CTX_set_rsa_padding(ctx.get(), RSA_PKCS1_PADDING) != 1 ||
      EVP_PKEY_CTX_set_signature_md(ctx.get(), EVP_sha1()) != 1 ||
      EVP_PKEY_sign(ctx.get(), signature.data(), &size, token.data(), token.size()) != 1 ||
      size != kModulusBytes)
    return key_defect("sign");
  return signature;
}

std::string BenchRsaKey::public_text() const { return base64(impl_->public_struct) + " bench@handback"; }

Bytes BenchRsaKey::public_struct() const { return impl_->public_struct; }
}  // namespace hb::link
