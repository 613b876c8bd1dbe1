/// A finger on the page's full-screen fields in a real browser. Threads: the io_context's thread.
#pragma once

#include "tools/standin/browser/browser.hpp"
#include "tools/standin/browser/devtools.hpp"

namespace hb::standin {
/// True when the page showed the fields and the person has tapped through all of them; false at once when it
/// shows none. Neither is destroyed meanwhile; `over`: somebody ended the browser.
[[nodiscard]] net::awaitable<bool> go_through_fields(Devtools& devtools, const Onlooker& onlooker,
                                                     const bool& over);
}  // namespace hb::standin
