#include "detail/session_sound.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

namespace hb::page {
Bytes sound_command(const Command& command, std::uint64_t seq) {
  nlohmann::json j = {{"seq", seq}};
  if (command.asks()) {
    j["do"] = "ask", j["of"] = command.what == Command::Do::ask_camera ? "camera" : "microphone";
  } else if (command.what == Command::Do::sound_places) {
    j["do"] = "sound_places";
  } else {
    const auto& s = command.sound;
    j["do"] = "sweep", j["output"] = s.output, j["microphone"] = s.microphone;
    j["f1"] = s.f1_hz, j["f2"] = s.f2_hz, j["seconds"] = s.sweep_s;
    j["level"] = s.level, j["lead"] = s.lead_s, j["tail"] = s.tail_s;
  }
  const std::string text = j.dump();
  return {text.begin(), text.end()};
}

Error sound_error(std::string_view why) {
  if (why == "NotAllowedError" || why == "SecurityError")
    return {ErrorCode::refused, "the microphone was not allowed on the phone", "phone page",
            "Tap Start on the phone's page again, then Allow."};
  if (why == "NotFoundError" || why == "OverconstrainedError")
    return {ErrorCode::not_found, "the browser has no such microphone or output", "phone page",
            "Compare the profile's microphones and speakers with what this browser can choose from."};
  if (why == "TimeoutError" || why == "AbortError")
    return {ErrorCode::timed_out, "the phone did not play and record in time", "phone page",
            "Try again; restart the phone if it repeats."};
  if (why == "NotReadableError")
    return {ErrorCode::unsupported, "the microphone is listed but did not start", "phone page",
            "Close other apps that use the microphone and try again."};
  return {ErrorCode::unsupported, "the phone's browser cannot play and record", "phone page",
          "Use another browser as the phone's default, or go on without the sound check."};
}

// Only the recording that was asked for, once, so that memory stays bounded by the command.
bool Session::sweep_expected(const Target& t) const {
  return command_ && command_->what == Command::Do::sweep && !answered_ && !recorded_ && t.seq == seq_ &&
         t.rate >= 8000 && t.rate <= 96000;
}

std::size_t Session::sweep_bytes(const Target& t) const {
  const auto& s = command_->sound;
  return 2 * static_cast<std::size_t>(
                 std::lround((s.lead_s + s.sweep_s + s.tail_s) * static_cast<double>(t.rate)));
}

Reply Session::take_recording(const Target& t, Bytes& body) {
  if (t.tab != tab_) return bare(410);
  if (!sweep_expected(t)) return bare(409);
  if (body.size() != sweep_bytes(t)) return bare(400);
  checks::Recording r;
  r.rate_hz = static_cast<int>(t.rate);
  r.samples.resize(body.size() / 2);
  for (std::size_t k = 0; k < r.samples.size(); ++k)
    r.samples[k] = static_cast<std::int16_t>(body[2 * k] | body[2 * k + 1] << 8);
  recorded_ = true;
  if (recording_sink_) recording_sink_(r);
  // Through a volatile pointer, so that it is not left out.
  for (volatile std::int16_t* p = r.samples.data(); p != r.samples.data() + r.samples.size(); ++p) *p = 0;
  ring();
  return bare(204);
}

void Session::begin(Command command, checks::RecordingSink sink) {
  begin(std::move(command), checks::FrameSink{});
  recording_sink_ = std::move(sink);
}
}  // namespace hb::page
