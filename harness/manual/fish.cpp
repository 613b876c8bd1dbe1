#include <fmt/format.h>

#include <set>

#include "harness/manual/manual.hpp"

namespace hb::manual {
namespace {
std::string single_quoted(std::string_view text) {
  std::string out = "'";
  for (const char c : text) {
    if (c == '\'' || c == '\\') out += '\\';
    out += c == '\n' ? ' ' : c;
  }
  return out + "'";
}

std::string below(const Command& c) {
  return fmt::format("{}", fmt::join(c.path.begin() + 1, c.path.end(), " "));
}

std::string value(const Option& o) {
  switch (o.offer) {
    case Offer::choices:
      return " -x -a " + single_quoted(fmt::format("{}", fmt::join(o.choices, " ")));
    case Offer::folder:
      return " -x -a '(__fish_complete_directories)'";
    case Offer::file:
      return " -r -F";
    case Offer::nothing:
      break;
  }
  return " -x";
}

struct Script {
  std::set<std::string> paths, with_value;
  std::string lines;
};

void add(const Command& c, const Command& program, Script& s) {
  const auto& name = program.path.front();
  const bool whole = &c == &program;
  const auto when = fmt::format("complete -c {} -n \"__{}_at {}\"", name, name, single_quoted(below(c)));
  bool files = false;
  for (const auto& sub : c.commands) {
    s.paths.insert(below(c) + " " + sub.path.back());
    s.lines +=
        fmt::format("{} -f -a {} -d {}\n", when, single_quoted(sub.path.back()), single_quoted(sub.help));
  }
  for (const auto& o : c.options) {
    if (o.names.empty()) {
      files = files || o.offer == Offer::file || o.offer == Offer::folder;
      if (o.offer == Offer::choices)
        s.lines +=
            fmt::format("{} -f -a {}\n", when, single_quoted(fmt::format("{}", fmt::join(o.choices, " "))));
      continue;
    }
    std::string flags;
    for (const auto& n : o.names) {
      flags += n.starts_with("--") ? " -l " + n.substr(2) : " -s " + n.substr(1);
      if (!o.value.empty()) s.with_value.insert(n);
    }
    if (!o.value.empty()) flags += value(o);
    s.lines += fmt::format("{}{} -d {}\n", whole ? fmt::format("complete -c {}", name) : when, flags,
                           single_quoted(o.help));
  }
  if (!files) s.lines += when + " -f\n";
  for (const auto& sub : c.commands) add(sub, program, s);
}
}  // namespace

std::string fish_completion(const Command& program) {
  const auto& name = program.path.front();
  Script s;
  add(program, program, s);
  const auto list = [](const std::set<std::string>& words) {
    std::string out;
    for (const auto& w : words) out += " " + single_quoted(w);
    return out.empty() ? std::string(" ''") : out;
  };
  std::string out = fmt::format("# fish completion of {0}, written by {0} from its option table.\n\n", name);
  out += fmt::format(
      "function __{0}_at --description 'whether the command line stands at this command'\n"
      "    set -l path ''\n    set -l before ''\n    set -l words (commandline -opc)\n    set -e words[1]\n"
      "    for word in $words\n        if not contains -- \"$before\"{1}\n"
      "            contains -- \"$path $word\"{2}\n"
      "            and set path (string trim -- \"$path $word\")\n        end\n        set before $word\n    "
      "end\n"
      "    test \"$path\" = \"$argv[1]\"\nend\n\n",
      name, list(s.with_value), list(s.paths));
  return out + s.lines;
}
}  // namespace hb::manual
