/// Takes a command line apart as far as the stand-in understands one: steps joined by ; && || | &, quotes,
/// redirections to nowhere, and one kind of loop, `for NAME in WORDS; do STEP; done`. Not a shell.
/// Threads: pure. Total on any input.
#pragma once

#include <string>
#include <string_view>
#include <vector>

namespace hb::standin {
enum class Join { always, if_ok, if_failed, piped };

struct Step {
  Join join = Join::always;        ///< on what the steps before it ended with
  bool in_background = false;      ///< followed by &
  std::string raw;                 ///< as written, for loops their body
  std::vector<std::string> words;  ///< without quotes and redirections
  bool out_hidden = false, err_hidden = false;
  std::string loop_name;  ///< empty: not a loop
  std::vector<std::string> loop_values;
};

/// False in `ok` for an open quote or a loop without its end.
struct Steps {
  bool ok = true;
  std::vector<Step> all;
};
[[nodiscard]] Steps steps_of(std::string_view command);
}  // namespace hb::standin
