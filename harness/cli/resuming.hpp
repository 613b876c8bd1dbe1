// Private to harness/cli: what to type when a run was broken off, and what to say of an exception.
#pragma once

#include <exception>
#include <string>

#include "app.hpp"
#include "perform.hpp"

namespace hb::cli {

/// As one word for a POSIX shell.
[[nodiscard]] std::string shell_word(const std::string& s);

/// The command that goes on with the run: as it stands it can be pasted into a shell in any folder, but for
/// the program's own path when that was given relative. No password of a ledger is in it.
[[nodiscard]] std::string command_to_resume(const App& app, const Home& home, const RunArgs& args,
                                            const std::string& run_id);
/// The error with that command at its end, when there is one and a resume can mend the error.
[[nodiscard]] Error with_resume(Error e, const std::string& command);

/// Of any exception: its kind alone, since the text of one may hold what a phone said.
[[nodiscard]] Error unforeseen(const std::exception& e);
}  // namespace hb::cli
