#include "html.hpp"

#include <fmt/format.h>

#include "drawing.hpp"

namespace hb::sheet {

std::string escaped(std::string_view text) {
  std::string s;
  s.reserve(text.size());
  for (const char c : text) switch (c) {
      case '&':
        s += "&amp;";
        break;
      case '<':
        s += "&lt;";
        break;
      case '>':
        s += "&gt;";
        break;
      case '"':
        s += "&quot;";
        break;
      case '\'':
        s += "&#39;";
        break;
      case '[':
        s += "&#91;";
        break;
      default:
        s += c;
    }
  return s;
}

std::string document(std::string_view title, std::string_view css, std::string_view body, const Language& l,
                     std::string_view script_source, std::string_view body_class) {
  std::string policy = "default-src 'none'; style-src 'unsafe-inline'";
  if (!script_source.empty()) policy += "; script-src " + std::string(script_source);
  return fmt::format(
      "<!DOCTYPE html>\n<html lang=\"{}\"{}>\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"{}\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
      "<meta name=\"referrer\" "
      "content=\"no-referrer\">\n<title>{}</title>\n<style>\n{}</style>\n</head>\n<body{}>\n{}</body>\n</"
      "html>\n",
      l.code(), l.right_to_left() ? " dir=\"rtl\"" : "", escaped(policy), escaped(title), css,
      body_class.empty() ? std::string() : fmt::format(" class=\"{}\"", body_class), body);
}

std::string outcome_badge(Outcome o, const std::string& text) {
  return fmt::format("<span class=\"badge {}\">{}<span>{}</span></span>", css_class(o),
                     svg(outcome_mark(o, 16), "", "mark"), escaped(text));
}

std::string_view css_class(Outcome o) noexcept {
  switch (o) {
    case Outcome::pass:
      return "pass";
    case Outcome::waived:
      return "waived";
    case Outcome::not_tested:
      return "untested";
    case Outcome::marginal:
      return "marginal";
    case Outcome::fail:
      return "fail";
  }
  return "untested";
}
}  // namespace hb::sheet
