/// The stand-in's own web browser: what `am start -a android.intent.action.VIEW -d URL` opens. Either a small
/// client of the phone page that answers as a browser's script would, or a real Chromium, headless, whose
/// camera is a rendered film of the same lens and whose microphone is a rendered recording.
/// Threads: the stand-in's io_context thread; rendering may take milliseconds.
#pragma once

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "harness/net/asio.hpp"
#include "tools/standin/optics/optics.hpp"
#include "tools/standin/physics/sound.hpp"

namespace hb::standin {
/// A mark on a full-screen field: the number of its kind on the wire (harness/page/README.md), place and
/// sides in fractions of the screen.
struct ScreenMark {
  int kind = 0;
  double x = 0, y = 0, w = 0, h = 0;
};
/// Who looks at the page's full-screen fields, and the screen that shows them.
struct Onlooker {
  std::function<std::pair<int, int>()> size_px;
  std::function<std::vector<ScreenMark>(std::string field)> marks;
};

class Browser {
 public:
  virtual ~Browser() = default;
  /// `lens_of(front, index)`: nullopt when no such camera module answers.
  using LensOf = std::function<std::optional<Lens>(bool front, int index)>;
  [[nodiscard]] static std::unique_ptr<Browser> builtin(net::io_context& io, LensOf lens_of,
                                                        bool gossips = false);
  /// `program`: path of a Chromium; its profile folder is temporary and removed.
  [[nodiscard]] static std::unique_ptr<Browser> chromium(net::io_context& io, std::string program,
                                                         LensOf lens_of);
  /// What it plays through and records with; none before this is called. `record` may give nothing.
  struct Ears {
    int outputs = 0, microphones = 0;
    std::function<std::vector<std::int16_t>(const Playing& playing, std::uint64_t take)> record;
  };
  virtual void hear(Ears ears) = 0;
  virtual void set_onlooker(Onlooker onlooker) = 0;
  virtual void open(std::string url) = 0;  ///< http://HOST.localhost:PORT/TOKEN/
  virtual void allow() = 0;                ///< the person taps Start and Allow
  virtual void looked() = 0;               ///< the person has gone through the full-screen fields once
  virtual void close() = 0;
  [[nodiscard]] virtual bool is_open() const = 0;
};
}  // namespace hb::standin
