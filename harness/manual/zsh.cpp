#include <fmt/format.h>

#include <algorithm>

#include "harness/manual/manual.hpp"

namespace hb::manual {
namespace {
/// Inside single quotes, in a place where _arguments reads brackets and colons.
std::string words(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == '\'')
      out += "'\\''";
    else if (c == '[' || c == ']' || c == ':' || c == '\\')
      out += std::string("\\") + c;
    else
      out += c == '\n' ? ' ' : c;
  }
  return out;
}

std::string action(const Option& o) {
  switch (o.offer) {
    case Offer::choices:
      return fmt::format("({})", fmt::join(o.choices, " "));
    case Offer::folder:
      return "_files -/";
    case Offer::file:
      return "_files";
    case Offer::nothing:
      break;
  }
  return " ";
}

/// `known`: options that the command has itself, which go before the program's of the same name.
void add_options(const Command& c, const Command* known, std::string& out) {
  int place = 0;
  for (const auto& o : c.options) {
    const auto same = [&o](const Option& k) { return k.names == o.names; };
    if (known != nullptr && std::any_of(known->options.begin(), known->options.end(), same)) continue;
    if (o.names.empty()) {
      out += fmt::format(" \\\n    '{}:{}:{}'", o.repeats ? "*" : std::to_string(++place), words(o.value),
                         action(o));
      continue;
    }
    const auto others = o.repeats ? std::string("*") : fmt::format("({})", fmt::join(o.names, " "));
    for (const auto& n : o.names)
      out +=
          fmt::format(" \\\n    '{}{}{}[{}]{}'", others, n,
                      o.value.empty()       ? ""
                      : n.starts_with("--") ? "="
                                            : "+",
                      words(o.help), o.value.empty() ? "" : fmt::format(":{}:{}", words(o.value), action(o)));
  }
}

void function(const Command& c, const Command& program, std::string& out) {
  const bool whole = &c == &program;
  for (const auto& s : c.commands) function(s, program, out);
  const auto name = fmt::format("_{}", fmt::join(c.path, "_"));
  out += fmt::format("{}() {{\n", name);
  if (!c.commands.empty()) {
    out += "  local context state state_descr line\n  typeset -A opt_args\n";
    out += "  local -a commands=(\n";
    for (const auto& s : c.commands) out += fmt::format("    '{}:{}'\n", s.path.back(), words(s.help));
    out += "  )\n";
  }
  out += c.commands.empty() ? "  _arguments -s -S" : "  _arguments -C -s -S";
  if (!c.commands.empty()) out += " \\\n    '1:command:->command' \\\n    '*::argument:->argument'";
  add_options(c, nullptr, out);
  if (!whole) add_options(program, &c, out);
  out += "\n";
  if (!c.commands.empty()) {
    out +=
        "  case $state in\n    command) _describe command commands ;;\n    argument)\n      case $words[1] "
        "in\n";
    for (const auto& s : c.commands)
      out += fmt::format("        {}) {}_{} ;;\n", s.path.back(), name, s.path.back());
    out += "      esac\n      ;;\n  esac\n";
  }
  out += "}\n\n";
}
}  // namespace

std::string zsh_completion(const Command& program) {
  const auto& name = program.path.front();
  std::string out = fmt::format("#compdef {0}\n# Written by {0} from its option table.\n\n", name);
  function(program, program, out);
  return out + fmt::format("_{} \"$@\"\n", name);
}
}  // namespace hb::manual
