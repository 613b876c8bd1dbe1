#include <fmt/format.h>

#include <algorithm>

#include "../sheet.hpp"
#include "story.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
constexpr std::size_t kColumns = 100;

/// Code points: enough for the words of the checks, which are Latin.
std::size_t width(std::string_view s) {
  return static_cast<std::size_t>(std::count_if(
      s.begin(), s.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xC0) != 0x80; }));
}
std::string padded(std::string s, std::size_t w) {
  const std::size_t have = width(s);
  return have < w ? s.append(w - have, ' ') : s;
}

/// Marks that differ without colour, and the SGR colour.
struct Look {
  std::string_view mark, sgr;
};
Look look(Outcome o) {
  switch (o) {
    case Outcome::pass:
      return {"ok", "32"};
    case Outcome::waived:
      return {"~ ", "35"};
    case Outcome::not_tested:
      return {"--", "2"};
    case Outcome::marginal:
      return {"! ", "33"};
    case Outcome::fail:
      return {"XX", "1;31"};
  }
  return {"--", "2"};
}
std::string coloured(const std::string& s, std::string_view sgr, bool on) {
  return on ? fmt::format("\x1b[{}m{}\x1b[0m", sgr, s) : s;
}

/// Wraps at spaces to lines of at most `w` columns; each line after the first starts with `indent` spaces.
std::string wrapped(std::string_view text, std::size_t w, std::size_t indent) {
  std::string out, line;
  const auto flush = [&] {
    out += (out.empty() ? "" : "\n" + std::string(indent, ' ')) + line;
    line.clear();
  };
  for (std::size_t i = 0; i <= text.size();) {
    const auto end = std::min(text.find(' ', i), text.size());
    const std::string word(text.substr(i, end - i));
    if (!line.empty() && width(line) + 1 + width(word) > w) flush();
    line += (line.empty() ? "" : " ") + word;
    i = end + 1;
  }
  flush();
  return out;
}

std::string row(const CheckView& c, std::size_t title_w, bool colour) {
  const Look l = look(c.outcome);
  const std::string says = c.outcome == Outcome::not_tested || c.outcome == Outcome::waived
                               ? sentence(c.reason)
                               : said(measured(c, english()));
  const std::size_t indent = 4 + title_w + 2 + 12;
  std::string t = " " + coloured(std::string(l.mark), l.sgr, colour) + " " +
                  padded(width(c.title) > title_w ? shown(c.title, title_w - 1) : c.title, title_w) + "  " +
                  coloured(padded(std::string(record_word(c.outcome)), 12), l.sgr, colour) +
                  wrapped(says, kColumns - indent, indent) + "\n";
  for (const auto& f : c.findings) {
    std::string line = "-> " + sentence(f.says);
    if (!f.open_again.empty()) line += " Open again: " + sentence(f.open_again);
    t += "    " + coloured(wrapped(line, kColumns - 7, 7), "1", colour) + "\n";
  }
  return t;
}
}  // namespace

std::string text_summary(const nlohmann::json& record, bool colour) {
  const auto view = read(record);
  if (!view) return view.error().message() + "\n";
  const View& v = *view;
  const Story story = tell(v, "", {}, english());
  std::vector<std::string> head;
  for (const auto* part : {&v.model, &v.tail, &v.job}) {
    if (part->empty()) continue;
    head.push_back(part == &v.tail ? "serial ends in " + *part : part == &v.job ? "job " + *part : *part);
  }
  std::string t = "\n";
  for (std::size_t i = 0; i < head.size(); ++i) t += (i ? " \u00B7 " : " ") + head[i];
  t += "\n " + std::string(kColumns - 1, '-') + "\n";
  std::size_t title_w = 8;
  for (const auto& c : v.checks) title_w = std::max(title_w, std::min<std::size_t>(width(c.title), 24));
  for (const auto& c : v.checks) t += row(c, title_w, colour);
  t += " " + std::string(kColumns - 1, '-') + "\n";
  const Look l = look(v.outcome);
  t += " " + coloured(fmt::format("{} {}", l.mark, story.headline), l.sgr == "2" ? "1" : l.sgr, colour) +
       " " + story.detail;
  if (v.bench_seconds > 0) t += " Bench time " + duration(v.bench_seconds) + ".";
  return t + (v.real_time() ? "\n" : "\n Simulated demonstration: time was driven by a fixture.\n");
}
}  // namespace hb::sheet
