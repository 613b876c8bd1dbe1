/// One opening of the phone page: its token, the tab that holds it, the command under way and what came back.
/// Threads: the phone's strand; no locks.
#pragma once

#include <list>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <set>
#include <vector>

#include "detail/http.hpp"

namespace hb::page {

struct Command {
  enum class Do { count, frames, ask_camera, ask_microphone, sound_places, sweep, fields } what = Do::count;
  checks::Facing facing = checks::Facing::back;
  int index = 0, width = 0, height = 0, count = 0;
  int focus_steps = 0;  ///< of `frames`: above 0, so many settings of the focus, each for as many pictures
  int lit = 0;          ///< of `frames`: above 0, so many in the middle with the camera's light on
  checks::SweepAsk sound;
  std::vector<checks::Field> fields = {};
  [[nodiscard]] bool asks() const noexcept { return what == Do::ask_camera || what == Do::ask_microphone; }
  [[nodiscard]] bool of_sound() const noexcept { return what == Do::sound_places || what == Do::sweep; }
};

class Session final : public Site {
 public:
  Session(std::string token, net::milliseconds poll) : token_(std::move(token)), poll_(poll) {}

  [[nodiscard]] const std::string& token() const noexcept { return token_; }
  /// Requests for any other host or port are for somebody else.
  void set_place(std::string_view host, std::uint16_t port);

  // The harness's side.
  [[nodiscard]] bool has_page() const noexcept { return tab_ != 0; }
  /// Whether the person has allowed what the command under way needs; the camera when there is none.
  [[nodiscard]] bool granted() const noexcept {
    if (command_ && command_->asks()) return true;
    return command_ && command_->of_sound() ? sound_granted_ : granted_;
  }
  [[nodiscard]] std::chrono::steady_clock::time_point last_seen() const noexcept { return last_seen_; }
  [[nodiscard]] bool busy() const noexcept { return command_.has_value(); }
  /// `sink` sees the command's pictures until drop(); each is overwritten after that.
  void begin(Command command, checks::FrameSink sink = {});
  /// The same for `sweep`, whose one recording `sink` sees.
  void begin(Command command, checks::RecordingSink sink);
  /// Forgets the command.
  void drop();
  [[nodiscard]] bool answered() const noexcept { return answered_; }
  /// The answer: a count for `count`, 0 for the others; once, after answered().
  [[nodiscard]] Result<int> outcome() const;
  /// After `sound_places`.
  [[nodiscard]] checks::SoundPlaces places() const noexcept { return places_; }
  /// Of `fields`, after an answer that is no refusal.
  [[nodiscard]] const checks::FieldMarks& marked() const noexcept { return marked_; }
  /// Tells the page that all is finished; stopped() once it has heard.
  void stop();
  [[nodiscard]] bool stopped() const noexcept { return stop_heard_; }
  /// Ends every connection now.
  void end();

  /// Waits until something changed or `t` passed. False: cancelled; then the caller returns at once.
  [[nodiscard]] net::awaitable<bool> change(std::chrono::steady_clock::time_point t);

  // One connection's life.
  [[nodiscard]] bool enter(link::Stream* stream);
  void leave(link::Stream* stream);

  // Site
  [[nodiscard]] Admission admit(const Head& head) override;
  [[nodiscard]] net::awaitable<Reply> answer(Head head, Bytes body) override;
  void seen() override;
  [[nodiscard]] bool over() const override { return over_; }

 private:
  struct Target {
    std::string_view name;  // path below /TOKEN/
    std::uint64_t tab = 0, seq = 0, seen = 0;
    long long i = -1, w = 0, h = 0, rate = 0;
    double t = 0, d = 0;
  };
  [[nodiscard]] std::optional<Target> parse(const Head& head) const;
  [[nodiscard]] Reply hello();
  [[nodiscard]] net::awaitable<Reply> next(std::uint64_t tab, std::uint64_t seen);
  [[nodiscard]] Reply take_answer(ByteView body);
  [[nodiscard]] Reply take_frame(const Target& target, Bytes& body);
  [[nodiscard]] Reply take_marks(const Target& target, ByteView body);
  [[nodiscard]] int awaits_marks(const Target& target) const;
  [[nodiscard]] int finish_command(const nlohmann::json& answer);
  [[nodiscard]] std::optional<std::size_t> expected_frame_bytes(const Target& target) const;
  // Of sound: session_sound.cpp.
  [[nodiscard]] bool sweep_expected(const Target& target) const;
  [[nodiscard]] std::size_t sweep_bytes(const Target& target) const;
  [[nodiscard]] Reply take_recording(const Target& target, Bytes& body);
  [[nodiscard]] Bytes command_text() const;
  void ring();

  std::string token_;
  net::milliseconds poll_;
  std::string host_;
  std::uint64_t tab_ = 0, seq_ = 0;
  bool granted_ = false, sound_granted_ = false, answered_ = false, stopping_ = false, stop_heard_ = false,
       over_ = false;
  std::chrono::steady_clock::time_point last_seen_{};
  std::optional<Command> command_;
  std::optional<Error> refusal_;
  int count_ = 0;
  checks::FrameSink sink_;
  checks::RecordingSink recording_sink_;
  bool recorded_ = false;
  checks::SoundPlaces places_;
  std::vector<bool> came_;  ///< which of the command's frames or fields
  checks::FieldMarks marked_;
  std::list<net::asio::steady_timer*> waiting_;
  std::set<link::Stream*> streams_;
};
}  // namespace hb::page
