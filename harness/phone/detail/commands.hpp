/// The only source of command texts. A Command cannot be made from free text: each maker below fills the
/// slots of one entry of command_list() with bounded numbers or screened names. Threads: pure.
#pragma once

#include <string>

#include "harness/base/result.hpp"
#include "harness/phone/phone.hpp"

namespace hb::phone::detail {

/// Indices into command_list().
enum class CommandId : unsigned {
  device,
  model,
  sdk,
  serial,
  uptime,
  battery,
  cell,
  sensors,
  input_devices,
  touch,
  device_state,
  thermal,
  cameras,
  display_size,
  wake,
  open_page,
  start_load,
  stop_load,
  supply,
  link_speed,
  wifi,
  bluetooth,
  nfc,
  sim,
  mobile,
  fingerprint,
  vibrate
};

class Command {
 public:
  [[nodiscard]] static Command plain(CommandId id);  ///< of an entry without slots
  [[nodiscard]] static Result<Command> cell(const std::string& supply);
  [[nodiscard]] static Result<Command> supply(const std::string& supply);
  [[nodiscard]] static Result<Command> link_speed(const std::string& udc);
  [[nodiscard]] static Result<Command> vibrate(int ms);
  [[nodiscard]] static Result<Command> touch(int node);
  [[nodiscard]] static Result<Command> open_page(const std::string& host, std::uint16_t port,
                                                 const std::string& token);
  [[nodiscard]] static Result<Command> start_load(int seconds, int workers);
  [[nodiscard]] const std::string& text() const noexcept { return text_; }

 private:
  explicit Command(std::string text) : text_(std::move(text)) {}
  [[nodiscard]] static Command filled(CommandId id, std::initializer_list<std::string> slots);
  std::string text_;
};
}  // namespace hb::phone::detail
