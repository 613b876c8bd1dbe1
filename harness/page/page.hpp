/// The phone page: a small web page that the harness serves to the phone's own browser through a reverse
/// forward of the debug link, so that cameras and sound can be judged with nothing installed. No socket of
/// ours is opened: HTTP/1.1 is spoken on the link's streams. Pictures and recordings live in memory, are
/// handed over once, and every buffer they passed through is overwritten; nothing is written to disk.
///
/// The page is served at http://HOST.localhost:DEVICE_PORT/TOKEN/ with a fresh 128-bit token; every other
/// path and host is 404. A browser keeps what a person allowed by origin, so HOST is of this run alone: what
/// was allowed is of no use to whoever listens on that port later. Names below localhost are the loopback's
/// without asking anybody (RFC 6761, 6.3) and a secure context (W3C Secure Contexts, section 3.1), so the
/// camera may be asked for. The protocol between page and harness is described in harness/page/README.md.
///
/// Threads: the phone's strand. Deadlines: wall time, see PageOptions; every call honours cancellation.
#pragma once

#include <cstdint>
#include <memory>
#include <string>

#include "checks/check.hpp"
#include "harness/page/frame_room.hpp"
#include "harness/phone/phone.hpp"

namespace hb::page {

/// A name for PageOptions::host that was never used and never will be.
[[nodiscard]] std::string host_of_one_run();

struct PageOptions {
  /// Of the run: a page that is opened again finds what the person allowed. Empty: of this port alone.
  std::string host{};
  /// When it is taken the phone chooses one.
  std::uint16_t device_port = 46080;
  net::milliseconds forward{5000};       ///< making and removing the reverse forward
  net::milliseconds hello{30000};        ///< the browser starts and loads the page
  net::milliseconds person{120000};      ///< the person taps Start and Allow
  net::milliseconds answer{20000};       ///< one command after that, and 10 s more for each frame
  net::milliseconds field{60000};        ///< for each full-screen field, besides `person` for the start
  net::milliseconds silence{20000};      ///< no request from the page for so long: it was closed
  net::milliseconds poll{8000};          ///< how long a request for work is held open
  net::milliseconds request_head{5000};  ///< a request's first byte to its blank line
  net::milliseconds request_body{20000};
  net::milliseconds idle{60000};  ///< a kept connection without a request
  /// Shared by the phones of one process; empty: each phone takes its pictures whenever it likes.
  std::shared_ptr<FrameRoom> room;
};

/// `phone` outlives the port. Errors of its calls, besides those in checks/check.hpp: link_lost, cancelled;
/// timed_out (page never opened, closed on the phone, or the person did nothing); invalid_argument (not
/// open; more than 16 frames, or sides outside 16..4096; a sweep of more than 10 s or outside 10 Hz..40 kHz;
/// no fields or more than there are).
/// frames() gives the camera's own pixels, never scaled ones; a browser that turns pictures with the phone
/// may swap width and height. After close() the port can be opened again. Destruction without close() leaves
/// the forward to the link's end.
[[nodiscard]] std::unique_ptr<checks::PagePort> make_page(phone::Phone& phone, PageOptions options = {});
}  // namespace hb::page
