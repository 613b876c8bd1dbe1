// How answers end a command, and the session's part of full-screen fields.
#include <algorithm>
#include <nlohmann/json.hpp>

#include "detail/fields.hpp"
#include "detail/session.hpp"

namespace hb::page {
// 0, or the status of an answer that does not fit the command or comes too early.
int Session::finish_command(const nlohmann::json& answer) {
  const auto number = [&](const char* key) -> std::uint64_t {
    const auto it = answer.find(key);
    return it != answer.end() && it->is_number_unsigned() ? it->get<std::uint64_t>() : 0;
  };
  switch (command_->what) {
    case Command::Do::count:
      if (number("count") > 64) return 400;
      count_ = static_cast<int>(number("count"));
      return 0;
    case Command::Do::sound_places:
      if (number("microphones") > 64 || number("outputs") > 64) return 400;
      places_ = {static_cast<int>(number("microphones")), static_cast<int>(number("outputs"))};
      return 0;
    case Command::Do::sweep:
      return recorded_ ? 0 : 409;
    case Command::Do::ask_camera:
    case Command::Do::ask_microphone:
      return 0;
    case Command::Do::frames:
    case Command::Do::fields:
      break;
  }
  if (std::find(came_.begin(), came_.end(), false) != came_.end()) return 409;
  if (command_->what == Command::Do::frames) return 0;
  const auto width = read_side(answer, "width"), height = read_side(answer, "height");
  if (!width || !height) return 400;
  marked_.width_px = *width, marked_.height_px = *height;
  return 0;
}

// 0, or the status for marks that nobody asked for.
int Session::awaits_marks(const Target& t) const {
  if (t.tab != tab_) return 410;
  const bool wanted = command_ && command_->what == Command::Do::fields && !answered_ && t.seq == seq_ &&
                      t.i >= 0 && t.i < static_cast<long long>(came_.size());
  return wanted && !came_[static_cast<std::size_t>(t.i)] ? 0 : 409;
}

Reply Session::take_marks(const Target& t, ByteView body) {
  if (const int refused = awaits_marks(t); refused != 0) return bare(refused);
  auto marks = read_marks(body);
  if (!marks) return bare(400);
  marked_.marks[static_cast<std::size_t>(t.i)] = std::move(*marks);
  came_[static_cast<std::size_t>(t.i)] = true;
  ring();
  return bare(204);
}
}  // namespace hb::page
