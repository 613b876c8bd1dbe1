#include <fmt/format.h>

#include <filesystem>
#include <fstream>

#include "fields_finger.hpp"
#include "film.hpp"
#include "tape.hpp"
#include "tools/standin/browser/browser.hpp"
#include "tools/standin/browser/devtools.hpp"

namespace hb::standin {
namespace {
namespace fs = std::filesystem;
constexpr int kFilmFrames = 4;
constexpr net::milliseconds kTick{40};

// One opened page: its process, the film in front of its camera, and a finger.
struct Visit {
  explicit Visit(net::io_context& context) : io(context) {}
  net::io_context& io;
  std::string program, url;
  Browser::LensOf lens_of;
  Browser::Ears ears;
  Onlooker onlooker;
  int looks = 0;
  int taps_wanted = 0, taps_done = 0;
  bool over = false;
  std::unique_ptr<Devtools> devtools;
  TempFolder folder;
  std::optional<Lens> filmed;
  std::uint64_t next_frame = 0;

  // The browser plays this file to the page over and over, whatever the page plays: what the first
  // microphone hears from the first output.
  [[nodiscard]] std::optional<fs::path> tape() const {
    if (!ears.record || ears.microphones < 1) return std::nullopt;
    Playing p;
    p.lead_s = 0.02, p.tail_s = 0.28;
    const auto file = folder.path() / "tape.wav";
    std::ofstream(file, std::ios::binary) << wav(ears.record(p, 0), p.rate_hz);
    return file;
  }

  [[nodiscard]] fs::path film_path() const { return folder.path() / "film.y4m"; }

  // The film is replaced as a whole, so that a camera being opened sees the old one or the new one.
  bool shoot() {
    const auto lens = lens_of(false, 0);
    if (lens == filmed) return lens.has_value();
    filmed = lens;
    std::error_code ec;
    if (!lens || !lens->present) {
      fs::remove(film_path(), ec);
      return false;
    }
    const auto draft = folder.path() / "draft.y4m";
    std::ofstream(draft, std::ios::binary) << film(*lens, kFilmFrames, next_frame);
    next_frame += kFilmFrames;
    fs::rename(draft, film_path(), ec);
    return !ec;
  }
};

constexpr const char* kStartButton =
    "(() => { const b = document.querySelector('#start'); if (!b || b.hidden || b.disabled) return null;"
    " b.scrollIntoView({block: 'center'}); const r = b.getBoundingClientRect();"
    " return [r.x + r.width / 2, r.y + r.height / 2]; })()";

net::awaitable<void> live(std::shared_ptr<Visit> visit) {
  std::vector<std::string> extra{"--use-fake-ui-for-media-stream"};
  if (visit->shoot()) {
    extra.emplace_back("--use-fake-device-for-media-stream");
    extra.emplace_back("--use-file-for-fake-video-capture=" + visit->film_path().string());
  }
  if (const auto tape = visit->tape()) {
    if (extra.size() == 1) extra.emplace_back("--use-fake-device-for-media-stream");
    extra.emplace_back("--use-file-for-fake-audio-capture=" + tape->string());
  }
  auto launched = Devtools::launch(visit->io, visit->program, extra);
  if (launched) {
    visit->devtools = std::move(*launched);
    auto attached = co_await visit->devtools->attach();
    nlohmann::json where = {{"url", visit->url}};
    auto gone_there = attached ? Result<void>{} : Result<void>{attached.error()};
    if (attached && !visit->over) {
      auto navigated = co_await visit->devtools->call("Page.navigate", where);
      if (!navigated) gone_there = navigated.error();
    }
    while (gone_there && !visit->over && visit->devtools->alive()) {
      static_cast<void>(visit->shoot());
      if (visit->taps_done < visit->taps_wanted) {
        auto spot = co_await visit->devtools->evaluate(kStartButton);
        if (spot && spot->is_array() && spot->size() == 2 && !visit->over) {
          auto done = co_await visit->devtools->tap(spot->at(0).get<double>(), spot->at(1).get<double>());
          if (done) visit->taps_done = visit->taps_wanted;
        }
      }
      if (visit->looks > 0 && visit->onlooker.marks)
        if (co_await go_through_fields(*visit->devtools, visit->onlooker, visit->over)) --visit->looks;
      auto waited = co_await net::pause(kTick);
      if (!waited) break;
    }
  }
  visit->over = true;
  visit->devtools.reset();
}

class Chromium final : public Browser {
 public:
  Chromium(net::io_context& io, std::string program, LensOf lens_of)
      : io_(io), program_(std::move(program)), lens_of_(std::move(lens_of)) {}
  ~Chromium() override { close(); }
  Chromium(const Chromium&) = delete;
  Chromium& operator=(const Chromium&) = delete;

  void hear(Ears ears) override { ears_ = std::move(ears); }
  void open(std::string url) override {
    close();
    visit_ = std::make_shared<Visit>(io_);
    visit_->onlooker = onlooker_;
    visit_->program = program_, visit_->url = std::move(url), visit_->lens_of = lens_of_;
    visit_->ears = ears_;
    net::co_spawn(io_, live(visit_), net::detached);
  }
  void allow() override {
    if (visit_) ++visit_->taps_wanted;
  }
  void set_onlooker(Onlooker onlooker) override { onlooker_ = std::move(onlooker); }
  void looked() override {
    if (visit_) ++visit_->looks;
  }
  // The process ends now; the coroutine notices at its next step.
  void close() override {
    if (!visit_) return;
    visit_->over = true;
    const auto visit = std::move(visit_);
    visit_.reset();
    if (visit->devtools) visit->devtools->kill();
  }
  [[nodiscard]] bool is_open() const override { return visit_ && !visit_->over; }

 private:
  net::io_context& io_;
  std::string program_;
  LensOf lens_of_;
  Ears ears_;
  Onlooker onlooker_;
  std::shared_ptr<Visit> visit_;
};
}  // namespace

std::unique_ptr<Browser> Browser::chromium(net::io_context& io, std::string program, LensOf lens_of) {
  return std::make_unique<Chromium>(io, std::move(program), std::move(lens_of));
}
}  // namespace hb::standin
