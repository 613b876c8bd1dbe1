#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <fstream>

#include "harness/manual/manual.hpp"

namespace hb::manual {
namespace {
namespace fs = std::filesystem;

Result<void> put(const fs::path& file, const std::string& text) {
  std::error_code ec;
  fs::create_directories(file.parent_path(), ec);
  std::ofstream out(file, std::ios::binary | std::ios::trunc);
  out << text;
  out.close();
  if (!out)
    return Error{ErrorCode::io, "the file cannot be written", file.string(),
                 "Make room, or name another folder."};
  return {};
}

/// Pages of commands that are no more would stay.
void forget_pages(const fs::path& man, const std::string& name) {
  std::error_code ec;
  for (fs::directory_iterator it(man, ec), end; !ec && it != end; it.increment(ec))
    if (const auto file = it->path().filename().string(); file.starts_with(name + "-") || file == name + ".1")
      fs::remove(it->path(), ec);
}
}  // namespace

Result<void> write_all(const Command& program, const Facts& facts, const fs::path& share) {
  const auto& name = program.path.front();
  const auto man = share / "man" / "man1";
  forget_pages(man, name);
  if (auto r = put(man / (name + ".1"), man_page(program, program, facts)); !r) return r;
  for (const auto& c : program.commands)
    if (auto r = put(man / fmt::format("{}.1", fmt::join(c.path, "-")), man_page(program, c, facts)); !r)
      return r;
  if (auto r = put(share / "bash-completion" / "completions" / name, bash_completion(program)); !r) return r;
  if (auto r = put(share / "zsh" / "site-functions" / ("_" + name), zsh_completion(program)); !r) return r;
  return put(share / "fish" / "vendor_completions.d" / (name + ".fish"), fish_completion(program));
}

void add_writer(CLI::App& program, Facts facts) {
  program
      .add_option_function<std::string>(
          "--write-manual",
          [&program, facts = std::move(facts)](const std::string& share) {
            if (const auto done = write_all(read(program), facts, share); !done) {
              fmt::print(stderr, "{}: {}\n", program.get_name(), done.error().message());
              throw CLI::RuntimeError(2);
            }
            throw CLI::Success();
          })
      ->group("");
}
}  // namespace hb::manual
