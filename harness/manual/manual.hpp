/// Manual pages and shell completions, written from a program's own option table: what `--help` says is what
/// they say. Errors: only write_all() touches files; io names the file. Threads: pure functions over values.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "harness/base/result.hpp"

namespace CLI {
class App;
}

namespace hb::manual {

/// What a shell offers for a value.
enum class Offer { nothing, file, folder, choices };

struct Option {
  std::vector<std::string> names;  ///< "--seed", "-q"; empty for an argument that has a place and no name
  std::string value;               ///< what stands for the value: "FILE"; empty for a flag
  Offer offer = Offer::nothing;
  std::vector<std::string> choices;
  std::string help;
  std::string fallback;  ///< value when it is not given; may be empty
  bool required = false;
  bool repeats = false;
};

/// A program, or one of its commands with all that is below it.
struct Command {
  std::vector<std::string> path;  ///< from the program down: {"handback", "bench", "init"}
  std::string help, footer;
  std::vector<Option> options;
  std::vector<Command> commands;
  bool needs_command = false;
};

/// What an option table does not know.
struct Facts {
  struct Entry {
    std::string term, text;
  };
  struct Section {
    std::string title;
    std::vector<Entry> entries;
  };
  std::string version;            ///< "0.2.0"
  std::string date;               ///< "2026-11-28"
  std::vector<Section> sections;  ///< of the program's page: environment, files
};

/// Walks a table. Options without a group are hidden, there as here.
[[nodiscard]] Command read(const CLI::App& program);

/// man(7) text of `shown`, which is `program` or one of its commands; what is nested below a command stands
/// on that command's page.
[[nodiscard]] std::string man_page(const Command& program, const Command& shown, const Facts& facts);

[[nodiscard]] std::string bash_completion(const Command& program);
[[nodiscard]] std::string zsh_completion(const Command& program);
[[nodiscard]] std::string fish_completion(const Command& program);

/// Everything above into a folder laid out as /usr/share is, in place of what this program wrote there
/// before.
[[nodiscard]] Result<void> write_all(const Command& program, const Facts& facts,
                                     const std::filesystem::path& share);

/// For a program without commands: a hidden option --write-manual DIR that calls write_all() and ends the
/// program. `program` outlives its parsing.
void add_writer(CLI::App& program, Facts facts);
}  // namespace hb::manual
