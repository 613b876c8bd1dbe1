/// Result<T>: a value or an Error, never both. Names follow std::expected (C++23), which GCC 12 lacks.
/// Expected failures (a torn packet, a typo in a profile, a full disk) are values; broken promises of the
/// program itself are exceptions. Ignoring a Result is a compiler warning.
/// Threads: a plain value type.
#pragma once

#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>
#include <utility>
#include <variant>

namespace hb {

/// The closed list of reasons. Each tells the caller what kind of thing to do next.
enum class ErrorCode {
  invalid_argument,  ///< the caller or the user asked for something that cannot be: change the request
  not_found,         ///< a file, phone, job or check that was named does not exist
  bad_format,        ///< bytes from outside do not follow their format: the place is in `where`
  refused,           ///< the other side understood and said no
  unauthorised,      ///< the phone has not allowed this bench yet: look at the phone
  link_lost,         ///< the cable was pulled or the connection dropped: can be resumed
  timed_out,         ///< a deadline passed: the other side may still be well
  cancelled,         ///< the technician stopped it
  unsupported,       ///< the phone or this build cannot do it: "not tested", never "fail"
  io,                ///< the disk, the database or a socket failed: nothing already written is lost
  altered,           ///< a signature or hash does not hold
  unknown_key,       ///< the signature holds, but nobody vouches for its key
  privacy,           ///< the gate refused text that could be personal
  safety,            ///< a safety stop: the phone is too hot, a voltage out of range
  internal           ///< a defect of this program
};

[[nodiscard]] std::string_view name(ErrorCode code) noexcept;

/// What went wrong, where (file:line, key, byte offset, phone tag), and what to do next.
/// None of the three may hold text that came from a phone.
struct [[nodiscard]] Error {
  ErrorCode code = ErrorCode::internal;
  std::string what;
  std::string where;
  std::string next;

  /// One line: "what (at where). next"
  [[nodiscard]] std::string message() const;
};

template <class T>
class [[nodiscard]] Result {
 public:
  using value_type = T;
  Result(T value) : v_(std::in_place_index<0>, std::move(value)) {}  // NOLINT(google-explicit-constructor)
  Result(Error error)
      : v_(std::in_place_index<1>, std::move(error)) {}  // NOLINT(google-explicit-constructor)

  [[nodiscard]] bool has_value() const noexcept { return v_.index() == 0; }
  explicit operator bool() const noexcept { return has_value(); }

  /// Precondition: has_value(). Throws std::logic_error otherwise: that is a defect of the caller.
  [[nodiscard]] T& value() & { return check(), std::get<0>(v_); }
  [[nodiscard]] const T& value() const& { return check(), std::get<0>(v_); }
  [[nodiscard]] T value() && { return check(), std::get<0>(std::move(v_)); }
  T& operator*() & { return value(); }
  const T& operator*() const& { return value(); }
  T operator*() && { return std::move(*this).value(); }
  T* operator->() { return &value(); }
  const T* operator->() const { return &value(); }

  /// Precondition: !has_value().
  [[nodiscard]] const Error& error() const& { return std::get<1>(v_); }
  [[nodiscard]] Error&& error() && { return std::get<1>(std::move(v_)); }

  [[nodiscard]] T value_or(T other) const& { return has_value() ? std::get<0>(v_) : std::move(other); }
  template <class F>
  auto and_then(F&& f) && -> decltype(f(std::declval<T>())) {
    if (!has_value()) return std::get<1>(std::move(v_));
    return f(std::get<0>(std::move(v_)));
  }
  template <class F>
  auto transform(F&& f) && -> Result<decltype(f(std::declval<T>()))> {
    if (!has_value()) return std::get<1>(std::move(v_));
    return f(std::get<0>(std::move(v_)));
  }

 private:
  void check() const {
    if (!has_value()) throw std::logic_error("value() of an Error: " + std::get<1>(v_).message());
  }
  std::variant<T, Error> v_;
};

template <>
class [[nodiscard]] Result<void> {
 public:
  using value_type = void;
  Result() = default;
  Result(Error error) : e_(std::move(error)) {}  // NOLINT(google-explicit-constructor)
  [[nodiscard]] bool has_value() const noexcept { return !e_; }
  explicit operator bool() const noexcept { return has_value(); }
  void value() const {
    if (e_) throw std::logic_error("value() of an Error: " + e_->message());
  }
  [[nodiscard]] const Error& error() const& { return *e_; }
  [[nodiscard]] Error&& error() && { return *std::move(e_); }

 private:
  std::optional<Error> e_;
};

}  // namespace hb
