#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "harness/manual/manual.hpp"

namespace hb::manual {
namespace {
/// Text as roff takes it: signs that it would read or redraw are named, a line cannot begin a request.
std::string roff(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
      case '\\':
        out += "\\e";
        break;
      case '-':
        out += "\\-";
        break;
      case '\'':
        out += "\\(aq";
        break;
      case '`':
        out += "\\(ga";
        break;
      case '^':
        out += "\\(ha";
        break;
      case '~':
        out += "\\(ti";
        break;
      default:
        out += c;
    }
  }
  return out.starts_with('.') ? "\\&" + out : out;
}

std::string bold(std::string_view text) { return "\\fB" + roff(text) + "\\fR"; }
std::string italic(std::string_view text) { return "\\fI" + roff(text) + "\\fR"; }

std::string joined(const std::vector<std::string>& words, const char* between) {
  return fmt::format("{}", fmt::join(words, between));
}

/// One paragraph a line of the text.
std::string paragraphs(const std::string& text) {
  std::string out;
  for (std::size_t at = 0; at < text.size();) {
    const auto end = std::min(text.find('\n', at), text.size());
    if (end > at) out += (out.empty() ? "" : ".PP\n") + roff(text.substr(at, end - at)) + "\n";
    at = end + 1;
  }
  return out;
}

std::string option(const Option& o) {
  std::string head;
  for (const auto& n : o.names) head += (head.empty() ? "" : ", ") + bold(n);
  if (!o.value.empty()) head += (head.empty() ? "" : " ") + italic(o.value);
  auto text = o.help;
  if (!o.choices.empty() && text.find(o.choices.front()) == std::string::npos)
    text += fmt::format("{}: {}", text.empty() ? "one of" : "; one of", joined(o.choices, ", "));
  if (o.repeats) text += "; may be repeated";
  if (!o.fallback.empty() && text.find("(default") == std::string::npos)
    text += fmt::format(" (default: {})", o.fallback);
  return fmt::format(".TP\n{}\n{}\n", head, roff(text.empty() ? "(no words)" : text));
}

std::string synopsis(const Command& c) {
  std::string out = bold(joined(c.path, " "));
  if (std::any_of(c.options.begin(), c.options.end(), [](const auto& o) { return !o.names.empty(); }))
    out += " [" + italic("OPTION") + "]...";
  for (const auto& o : c.options)
    if (o.names.empty()) out += o.required ? " " + italic(o.value) : " [" + italic(o.value) + "]";
  if (!c.commands.empty())
    out += (c.needs_command ? " " : " [") + italic("COMMAND") + (c.needs_command ? "" : "]");
  return out;
}

std::string options(const Command& c) {
  std::string out;
  for (const auto& o : c.options)
    if (o.names.empty()) out += option(o);
  for (const auto& o : c.options)
    if (!o.names.empty()) out += option(o);
  return out;
}

/// A command that stands on its parent's page, and what is below it.
std::string nested(const Command& c) {
  const auto help = paragraphs(c.help);
  std::string out = fmt::format(".SS {}\n{}", roff(joined(c.path, " ")), help);
  out += fmt::format("{}{}\n", help.empty() ? "" : ".PP\n", synopsis(c)) + options(c);
  if (!c.footer.empty()) out += ".PP\n" + paragraphs(c.footer);
  for (const auto& sub : c.commands) out += nested(sub);
  return out;
}

std::string upper(std::string text) {
  for (auto& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
  return text;
}

/// "NAME - what": the part behind the dash is one line without the program's own name before it.
std::string short_help(const Command& c) {
  auto line = c.help.substr(0, c.help.find('\n'));
  const auto own = c.path.front() + ": ";
  if (line.starts_with(own)) line.erase(0, own.size());
  while (line.ends_with('.')) line.pop_back();
  return line;
}
}  // namespace

std::string man_page(const Command& program, const Command& shown, const Facts& facts) {
  const bool whole = shown.path == program.path;
  const auto name = joined(shown.path, "-");
  std::string out = fmt::format(".\\\" Written by {} from its option table.\n", program.path.front());
  out += fmt::format(".TH {} 1 {} \"{} {}\"\n", upper(name), facts.date, program.path.front(), facts.version);
  out += fmt::format(".SH NAME\n{} \\- {}\n", roff(name), roff(short_help(shown)));
  out += fmt::format(".SH SYNOPSIS\n{}\n", synopsis(shown));
  out += ".SH DESCRIPTION\n" + paragraphs(shown.help);
  if (whole && !shown.commands.empty()) {
    out += ".SH COMMANDS\n";
    for (const auto& c : shown.commands)
      out += fmt::format(".TP\n{}\n{}\n", bold(joined(c.path, "-") + "(1)"), roff(short_help(c)));
  }
  out += ".SH OPTIONS\n" + options(shown);
  if (!whole && !program.options.empty())
    out += fmt::format(".PP\nThe options of {} may stand here too.\n", bold(program.path.front() + "(1)"));
  if (!whole && !shown.commands.empty()) {
    out += ".SH COMMANDS\n";
    for (const auto& c : shown.commands) out += nested(c);
  }
  if (!shown.footer.empty()) out += ".SH NOTES\n" + paragraphs(shown.footer);
  if (whole)
    for (const auto& s : facts.sections) {
      out += fmt::format(".SH {}\n", upper(s.title));
      for (const auto& e : s.entries) out += fmt::format(".TP\n{}\n{}\n", bold(e.term), roff(e.text));
    }
  if (!whole) out += fmt::format(".SH SEE ALSO\n{}\n", bold(program.path.front() + "(1)"));
  return out;
}
}  // namespace hb::manual
