// Private to reports/sign: secrets in memory, and key files.
#pragma once

#include <sodium.h>

#include <filesystem>
#include <new>
#include <stdexcept>

#include "reports/sign/sign.hpp"

namespace hb::sign::detail {
inline void start_sodium() {
  if (sodium_init() < 0) throw std::runtime_error("the cryptography library does not start");
}

/// Octets between guard pages, locked into memory if the limit of the process allows it; wiped when freed.
class Locked {
 public:
  explicit Locked(std::size_t n) : size_(n) {
    start_sodium();
    data_ = static_cast<std::uint8_t*>(sodium_malloc(n));
    if (data_ == nullptr) throw std::bad_alloc();
    sodium_memzero(data_, n);
  }
  Locked(const Locked&) = delete;
  Locked& operator=(const Locked&) = delete;
  ~Locked() { sodium_free(data_); }
  [[nodiscard]] std::uint8_t* data() noexcept { return data_; }
  [[nodiscard]] const std::uint8_t* data() const noexcept { return data_; }
  [[nodiscard]] std::size_t size() const noexcept { return size_; }
  [[nodiscard]] ByteView view() const noexcept { return {data_, size_}; }

 private:
  std::uint8_t* data_ = nullptr;
  std::size_t size_;
};

/// New file, mode 0600, flushed with its folder; never overwrites. Errors: refused, io.
[[nodiscard]] Result<void> write_secret_file(const std::filesystem::path& file, ByteView content);

/// A protected file: see README.md for the layout.
[[nodiscard]] bool is_protected(ByteView content) noexcept;
[[nodiscard]] Result<SigningKey> open_protected(ByteView content, const Passphrase& passphrase,
                                                const std::string& where);
}  // namespace hb::sign::detail
