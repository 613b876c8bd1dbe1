#include <fmt/format.h>

#include "harness/manual/manual.hpp"

namespace hb::manual {
namespace {
/// Path below the program: "bench root".
std::string below(const Command& c) {
  return fmt::format("{}", fmt::join(c.path.begin() + 1, c.path.end(), " "));
}

std::string single_quoted(std::string_view text) {
  std::string out = "'";
  for (const char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

std::string how(const Option& o) {
  switch (o.offer) {
    case Offer::choices:
      return fmt::format("words {}", fmt::join(o.choices, " "));
    case Offer::folder:
      return "folder";
    case Offer::file:
      return "file";
    case Offer::nothing:
      break;
  }
  return "nothing";
}

struct Tables {
  std::string commands, words, values;
};

void fill(const Command& c, const Command& program, Tables& t) {
  const bool whole = &c == &program;
  std::vector<std::string> subs, words;
  for (const auto& s : c.commands) subs.push_back(s.path.back());
  for (const auto& o : c.options) {
    words.insert(words.end(), o.names.begin(), o.names.end());
    if (o.value.empty()) continue;
    std::string keys;
    const auto at = whole ? std::string("*") : single_quoted(below(c));
    if (o.names.empty()) keys = single_quoted(below(c)) + ":";
    for (const auto& n : o.names) keys += (keys.empty() ? "" : " | ") + at + ":" + n;
    // The program's own options hold everywhere, so they come last.
    t.values += fmt::format("    {}) printf '%s\\n' {} ;;\n", keys, single_quoted(how(o)));
  }
  if (!subs.empty())
    t.commands += fmt::format("    {}) echo {} ;;\n", single_quoted(below(c)),
                              single_quoted(fmt::format("{}", fmt::join(subs, " "))));
  if (!whole)
    t.words += fmt::format("    {}) echo {} ;;\n", single_quoted(below(c)),
                           single_quoted(fmt::format("{}", fmt::join(words, " "))));
}

void walk(const Command& c, const Command& program, Tables& t) {
  for (const auto& s : c.commands) walk(s, program, t);
  fill(c, program, t);
}
}  // namespace

std::string bash_completion(const Command& program) {
  Tables t;
  walk(program, program, t);
  std::vector<std::string> general;
  for (const auto& o : program.options) general.insert(general.end(), o.names.begin(), o.names.end());
  const auto& name = program.path.front();
  std::string out = fmt::format("# bash completion of {0}, written by {0} from its option table.\n\n", name);
  out += fmt::format("_{}_commands() {{\n  case \"$1\" in\n{}  esac\n}}\n\n", name,
                     t.commands.empty() ? "    *) ;;\n" : t.commands);
  out += fmt::format("_{}_options() {{\n  case \"$1\" in\n{}    *) ;;\n  esac\n  echo {}\n}}\n\n", name,
                     t.words, single_quoted(fmt::format("{}", fmt::join(general, " "))));
  out += fmt::format(
      "# How the value of an option is completed; without a name, of an argument. Fails for a flag.\n"
      "_{}_value() {{\n  case \"$1:$2\" in\n{}    *) return 1 ;;\n  esac\n}}\n\n",
      name, t.values);
  std::string body = R"bash(_NAME() {
  local cur prev path='' before='' word how i
  cur=${COMP_WORDS[COMP_CWORD]}
  prev=${COMP_WORDS[COMP_CWORD - 1]}
  if [[ $cur == = ]]; then
    cur=''
  elif [[ $prev == = ]]; then
    prev=${COMP_WORDS[COMP_CWORD - 2]}
  fi
  for ((i = 1; i < COMP_CWORD; i++)); do
    word=${COMP_WORDS[i]}
    if [[ -z $before ]] || ! _NAME_value "$path" "$before" >/dev/null; then
      [[ " $(_NAME_commands "$path") " == *" $word "* ]] && path=${path:+$path }$word
    fi
    before=''
    [[ $word == -* ]] && before=$word
  done
  COMPREPLY=()
  if [[ $prev == -* ]] && how=$(_NAME_value "$path" "$prev"); then
    :
  elif [[ $cur == -* ]]; then
    how="words $(_NAME_options "$path")"
  elif [[ -n $(_NAME_commands "$path") ]]; then
    how="words $(_NAME_commands "$path")"
  else
    how=$(_NAME_value "$path" '') || how=nothing
  fi
  case $how in
    words*) mapfile -t COMPREPLY < <(compgen -W "${how#words }" -- "$cur") ;;
    folder)
      compopt -o filenames 2>/dev/null
      mapfile -t COMPREPLY < <(compgen -d -- "$cur")
      ;;
    file)
      compopt -o filenames 2>/dev/null
      mapfile -t COMPREPLY < <(compgen -f -- "$cur")
      ;;
  esac
}
complete -F _NAME NAME
)bash";
  for (std::size_t at = 0; (at = body.find("NAME", at)) != std::string::npos; at += name.size())
    body.replace(at, 4, name);
  return out + body;
}
}  // namespace hb::manual
