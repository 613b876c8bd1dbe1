#include "detail/session.hpp"

#include <fmt/format.h>
#include <sodium.h>

#include <nlohmann/json.hpp>

#include "detail/assets.hpp"
#include "detail/fields.hpp"
#include "detail/session_sound.hpp"
#include "harness/base/text.hpp"

namespace hb::page {
namespace {
constexpr std::size_t kMaxConnections = 16, kAnswerLimit = 2048;
constexpr double kNearest_m = 0.01, kFarthest_m = 1000;  // of a focus setting

Reply json(const nlohmann::json& j) {
  Reply r;
  const std::string text = j.dump();
  r.status = 200, r.type = "application/json", r.body.assign(text.begin(), text.end());
  return r;
}
bool is_asset(std::string_view name) {
  const auto all = assets();
  return std::any_of(all.begin(), all.end(), [&](const Asset& a) { return a.name == name; });
}
std::string_view type_of(std::string_view name) {
  if (name.ends_with(".css")) return "text/css; charset=utf-8";
  if (name.ends_with(".js")) return "text/javascript; charset=utf-8";
  return "text/html; charset=utf-8";
}

// DOMException names of Media Capture and Streams (W3C), and the page script's own. The phone's text is
// compared and dropped.
Error error_of(std::string_view why) {
  if (why == "NotAllowedError" || why == "SecurityError")
    return {ErrorCode::refused, "the camera was not allowed on the phone", "phone page",
            "Tap Start on the phone's page again, then Allow."};
  if (why == "NotFoundError" || why == "OverconstrainedError")
    return {ErrorCode::not_found, "the browser has no such camera", "phone page",
            "Check the camera's connector if the model has this camera."};
  if (why == "TimeoutError" || why == "AbortError")
    return {ErrorCode::timed_out, "the camera gave no picture in time", "phone page",
            "Try again; restart the phone if it repeats."};
  if (why == "NotOffered")
    return {ErrorCode::unsupported, "the phone's browser does not offer this of the camera", "phone page",
            "Use another browser as the phone's default, or take it out of the profile."};
  if (why == "NotReadableError")
    return {ErrorCode::unsupported, "the camera is listed but did not start", "phone page",
            "Close other apps that use the camera and try again."};
  return {ErrorCode::unsupported, "the phone's browser cannot take these pictures", "phone page",
          "Use another browser as the phone's default, or go on without the camera check."};
}
}  // namespace

// ------------------------------------------------------------------ the harness's side

void Session::begin(Command command, checks::FrameSink sink) {
  drop();
  command_ = command;
  ++seq_;
  sink_ = std::move(sink);
  if (command.what == Command::Do::frames) came_.resize(static_cast<std::size_t>(command.count));
  if (command.what == Command::Do::fields)
    came_.resize(command.fields.size()), marked_.marks.resize(command.fields.size());
  ring();
}

void Session::drop() {
  command_.reset();
  sink_ = nullptr, recording_sink_ = nullptr;
  recorded_ = false, places_ = {};
  came_.clear();
  answered_ = false;
  refusal_.reset();
  count_ = 0;
  marked_ = {};
}

Result<int> Session::outcome() const {
  if (refusal_) return *refusal_;
  return count_;
}

void Session::stop() {
  stopping_ = true;
  ring();
}

void Session::end() {
  over_ = true;
  drop();
  for (auto* s : streams_) s->close();
  ring();
}

void Session::ring() {
  for (auto* t : waiting_) t->cancel();
}

net::awaitable<bool> Session::change(std::chrono::steady_clock::time_point t) {
  net::asio::steady_timer timer(co_await net::asio::this_coro::executor, t);
  struct Listed {
    std::list<net::asio::steady_timer*>& all;
    net::asio::steady_timer* mine;
    ~Listed() { all.remove(mine); }
  } listed{waiting_, &timer};
  waiting_.push_back(&timer);
  static_cast<void>(co_await timer.async_wait(net::tuple));
  const auto state = co_await net::asio::this_coro::cancellation_state;
  co_return state.cancelled() == net::asio::cancellation_type::none;
}

bool Session::enter(link::Stream* stream) {
  if (over_ || streams_.size() >= kMaxConnections) return false;
  streams_.insert(stream);
  return true;
}
void Session::leave(link::Stream* stream) { streams_.erase(stream); }

// ------------------------------------------------------------------ requests

std::optional<Session::Target> Session::parse(const Head& head) const {
  const std::string_view all = head.target;
  const auto question = all.find('?');
  std::string_view path = all.substr(0, question);
  const std::size_t n = token_.size();
  if (path.size() < n + 2 || path[0] != '/' || path[n + 1] != '/' ||
      sodium_memcmp(path.data() + 1, token_.data(), n) != 0)
    return std::nullopt;
  Target t;
  t.name = path.substr(n + 2);
  if (question == std::string_view::npos) return t;
  for (const auto part : split(all.substr(question + 1), '&')) {
    const auto eq = part.find('=');
    if (eq == std::string_view::npos) return std::nullopt;
    const auto key = part.substr(0, eq), value = part.substr(eq + 1);
    if (key == "t" || key == "d") {
      (key == "t" ? t.t : t.d) = to_double(value).value_or(0);
      continue;
    }
    const auto number = to_int(value);
    if (!number || *number < 0) return std::nullopt;
    if (key == "tab") t.tab = static_cast<std::uint64_t>(*number);
    if (key == "seq") t.seq = static_cast<std::uint64_t>(*number);
    if (key == "seen") t.seen = static_cast<std::uint64_t>(*number);
    if (key == "i") t.i = *number;
    if (key == "w") t.w = *number;
    if (key == "h") t.h = *number;
    if (key == "rate") t.rate = *number;
  }
  return t;
}

void Session::set_place(std::string_view host, std::uint16_t port) {
  host_ = fmt::format("{}.localhost:{}", host, port);
}

Admission Session::admit(const Head& head) {
  const auto t = parse(head);
  if (!t || host_.empty() || head.host != host_) return {404, 0};
  if (!head.origin.empty() && head.origin != "http://" + head.host) return {403, 0};
  const bool get_only = t->name.empty() || t->name == "next" || is_asset(t->name);
  const bool post_only = t->name == "hello" || t->name == "answer" || t->name == "frame" ||
                         t->name == "recording" || t->name == "marks";
  if (!get_only && !post_only) return {404, 0};
  if (head.post != post_only) return {405, 0};
  if (t->name == "marks") {
    const int refusal = awaits_marks(*t);
    return {refusal, refusal == 0 ? kMarksLimit : 0};
  }
  if (t->name != "frame" && t->name != "recording") return {0, head.post ? kAnswerLimit : 0};
  if (t->tab != tab_) return {410, 0};
  if (t->name == "recording") {
    if (!sweep_expected(*t)) return {409, 0};
    return {0, sweep_bytes(*t)};
  }
  const auto bytes = expected_frame_bytes(*t);
  if (!bytes) return {409, 0};
  if (*bytes > kBodyLimit) return {413, 0};
  return {0, *bytes};
}

void Session::seen() { last_seen_ = std::chrono::steady_clock::now(); }

net::awaitable<Reply> Session::answer(Head head, Bytes body) {
  const auto t = parse(head);
  if (!t) co_return bare(404);
  if (t->name == "hello") co_return hello();
  if (t->name == "next") co_return co_await next(t->tab, t->seen);
  if (t->name == "answer") co_return take_answer(body);
  if (t->name == "marks") co_return take_marks(*t, body);
  if (t->name == "frame" || t->name == "recording") {
    Reply r = t->name == "frame" ? take_frame(*t, body) : take_recording(*t, body);
    wipe(body);
    co_return r;
  }
  for (const auto& a : assets()) {
    if (a.name != (t->name.empty() ? "index.html" : t->name)) continue;
    Reply r;
    r.status = 200, r.type = type_of(a.name), r.body.assign(a.bytes.begin(), a.bytes.end());
    co_return r;
  }
  co_return bare(404);
}

// A page that was loaded again takes over: an older tab hears 410 and finishes.
Reply Session::hello() {
  if (stopping_) return bare(410);
  ++tab_;
  granted_ = sound_granted_ = recorded_ = false;
  came_.assign(came_.size(), false);
  ring();
  return json({{"tab", tab_}});
}

net::awaitable<Reply> Session::next(std::uint64_t tab, std::uint64_t seen_seq) {
  const auto until = std::chrono::steady_clock::now() + poll_;
  for (;;) {
    if (over_ || tab != tab_) co_return bare(410);
    if (stopping_) {
      stop_heard_ = true;
      ring();
      co_return json({{"do", "stop"}});
    }
    if (command_ && !answered_ && seq_ > seen_seq) {
      Reply r;
      r.status = 200, r.type = "application/json", r.body = command_text();
      co_return r;
    }
    if (std::chrono::steady_clock::now() >= until) co_return bare(204);
    const bool alive = co_await change(until);
    if (!alive) co_return bare(410);
  }
}

Bytes Session::command_text() const {
  if (command_->asks() || command_->of_sound()) return sound_command(*command_, seq_);
  if (command_->what == Command::Do::fields) {
    const std::string fields = fields_command(seq_, command_->fields).dump();
    return {fields.begin(), fields.end()};
  }
  const bool frames = command_->what == Command::Do::frames;
  nlohmann::json j = {{"seq", seq_},
                      {"do", frames ? "frames" : "count"},
                      {"facing", command_->facing == checks::Facing::back ? "back" : "front"}};
  if (frames) {
    j["index"] = command_->index, j["count"] = command_->count;
    j["width"] = command_->width, j["height"] = command_->height;
    if (command_->focus_steps > 0) j["focus"] = command_->focus_steps;
    if (command_->lit > 0) j["lit"] = command_->lit;
  }
  const std::string text = j.dump();
  return {text.begin(), text.end()};
}

Reply Session::take_answer(ByteView body) {
  const auto j = nlohmann::json::parse(body.begin(), body.end(), nullptr, false);
  const auto number = [&](const char* key) -> std::uint64_t {
    const auto it = j.find(key);
    return it != j.end() && it->is_number_unsigned() ? it->get<std::uint64_t>() : 0;
  };
  const auto truth = [&](const char* key) {
    const auto it = j.find(key);
    return it != j.end() && it->is_boolean() && it->get<bool>();
  };
  if (!j.is_object()) return bare(400);
  if (number("tab") != tab_) return bare(410);
  if (truth("granted")) {
    const auto of = j.find("of");
    (of != j.end() && of->is_string() && *of == "microphone" ? sound_granted_ : granted_) = true;
    ring();
    return bare(204);
  }
  if (!command_ || answered_ || number("seq") != seq_) return bare(409);
  if (truth("ok")) {
    if (const int refused = finish_command(j); refused != 0) return bare(refused);
  } else {
    const auto why = j.find("why");
    const std::string said = why != j.end() && why->is_string() ? why->get<std::string>() : std::string();
    refusal_ = command_->what == Command::Do::fields ? fields_error(said)
               : command_->of_sound()                ? sound_error(said)
                                                     : error_of(said);
  }
  answered_ = true;
  ring();
  return bare(204);
}

// Only a frame that was asked for and has not come yet, so that memory stays bounded by the command.
std::optional<std::size_t> Session::expected_frame_bytes(const Target& t) const {
  if (!command_ || command_->what != Command::Do::frames || answered_ || t.seq != seq_ || t.i < 0 ||
      t.i >= static_cast<long long>(came_.size()) || came_[static_cast<std::size_t>(t.i)])
    return std::nullopt;
  if (command_->focus_steps > 0 && !(t.d >= kNearest_m && t.d <= kFarthest_m)) return std::nullopt;
  if (t.w < 16 || t.h < 16 || t.w > 4096 || t.h > 4096) return std::nullopt;
  if (command_->lit > 0 && t.w * t.h > static_cast<long long>(command_->width) * command_->height)
    return std::nullopt;
  return 4 * static_cast<std::size_t>(t.w * t.h);
}

Reply Session::take_frame(const Target& t, Bytes& body) {
  if (t.tab != tab_) return bare(410);
  const auto rgba_size = expected_frame_bytes(t);
  if (!rgba_size) return bare(409);
  const std::size_t pixels = *rgba_size / 4;
  if (body.size() != 3 * pixels && body.size() != *rgba_size) return bare(400);
  checks::Frame f;
  f.width = static_cast<int>(t.w), f.height = static_cast<int>(t.h), f.t_ms = t.t;
  if (command_->focus_steps > 0) f.focus_m = t.d;
  if (body.size() == 3 * pixels) {
    f.rgb = std::move(body);
  } else {
    f.rgb.resize(3 * pixels);
    for (std::size_t p = 0; p < pixels; ++p) std::copy_n(&body[4 * p], 3, &f.rgb[3 * p]);
  }
  came_[static_cast<std::size_t>(t.i)] = true;
  if (sink_) sink_(static_cast<int>(t.i), f);
  wipe(f.rgb);
  ring();
  return bare(204);
}
}  // namespace hb::page
