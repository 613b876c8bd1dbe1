#include "tools/standin/shell/grep.hpp"

#include <optional>
#include <regex>

#include "harness/base/text.hpp"

namespace hb::standin {
namespace {
struct Options {
  bool count = false, only = false;
  long long most = -1;  ///< lines; negative: all
  std::string pattern;
};

std::optional<Options> options_of(const std::vector<std::string>& w) {
  Options o;
  std::size_t i = 1;
  for (; i < w.size() && w[i].size() == 2 && w[i][0] == '-'; ++i) {
    if (w[i] == "-c") {
      o.count = true;
    } else if (w[i] == "-o") {
      o.only = true;
    } else if (w[i] == "-m") {
      const auto n = i + 1 < w.size() ? to_int(w[++i]) : std::nullopt;
      if (!n || *n < 0) return std::nullopt;
      o.most = *n;
    } else if (w[i] != "-E") {
      return std::nullopt;
    }
  }
  if (i + 1 != w.size()) return std::nullopt;
  o.pattern = w[i];
  return o;
}
}  // namespace

Found grep(const std::vector<std::string>& words, std::string_view input) {
  const auto o = options_of(words);
  if (!o || o->pattern.empty() || o->pattern.size() > 200) return {};
  std::regex pattern;
  try {
    pattern.assign(o->pattern, std::regex::extended);
  } catch (const std::regex_error&) {
    return {};
  }
  Found f;
  long long lines = 0;
  while (!input.empty() && lines != o->most) {
    const auto end = std::min(input.find('\n'), input.size());
    const std::string line(input.substr(0, end));
    input.remove_prefix(std::min(end + 1, input.size()));
    if (line.size() > 4096 || !std::regex_search(line, pattern)) continue;
    ++lines;
    if (o->count) continue;
    if (!o->only) f.text += line + '\n';
    for (auto m = std::sregex_iterator(line.begin(), line.end(), pattern);
         o->only && m != std::sregex_iterator(); ++m)
      f.text += m->str() + '\n';
  }
  if (o->count) f.text = std::to_string(lines) + '\n';
  f.status = lines > 0 ? 0 : 1;
  return f;
}
}  // namespace hb::standin
