#include "language.hpp"

#include <algorithm>
#include <boost/locale/gnu_gettext.hpp>
#include <boost/locale/message.hpp>

#include "../sheet.hpp"
#include "catalogues.hpp"

namespace hb::sheet {
namespace {
using Messages = boost::locale::message_format<char>;
namespace gettext = boost::locale::gnu_gettext;

/// A locale that holds one catalogue and else is the classic one. The reader asks for files by name; it gets
/// the bytes that are part of the program, or nothing.
std::locale with_catalogue(const Catalogue& c) {
  gettext::messages_info info;
  info.language = std::string(c.code);
  info.encoding = "UTF-8";
  info.domains.emplace_back("sheet");
  info.paths.emplace_back("catalogue");
  const std::string wanted = "/" + std::string(c.code) + "/";
  info.callback = [wanted, bytes = c.mo](const std::string& file, const std::string&) {
    const bool mine = file.find(wanted) != std::string::npos;
    return mine ? std::vector<char>(bytes.begin(), bytes.end()) : std::vector<char>();
  };
  return {std::locale::classic(), gettext::create_messages_facet<char>(info)};
}

const Messages* messages(const std::locale& l) {
  return std::has_facet<Messages>(l) ? &std::use_facet<Messages>(l) : nullptr;
}
}  // namespace

std::vector<std::string> languages() {
  std::vector<std::string> all{"en"};
  for (const auto& c : catalogues()) all.emplace_back(c.code);
  return all;
}

const Language& english() {
  static const Language l("en", std::locale::classic());
  return l;
}

Result<Language> Language::named(std::string_view code) {
  if (code.empty() || code == "en") return english();
  for (const auto& c : catalogues())
    if (c.code == code) return Language(std::string(code), with_catalogue(c));
  std::string known;
  for (const auto& l : languages()) known += (known.empty() ? "" : ", ") + l;
  return Error{ErrorCode::invalid_argument, "the sheet is not translated into this language", "language",
               "Known: " + known + "."};
}

std::string Language::tr(const char* text) const {
  if (*text == 0) return {};  // a catalogue keeps its header there
  const Messages* m = messages(catalogue_);
  const char* found = m ? m->get(0, nullptr, text) : nullptr;
  return found ? found : text;
}

std::string Language::trc(const char* sense, const std::string& text) const {
  const Messages* m = messages(catalogue_);
  const char* found = m ? m->get(0, sense, text.c_str()) : nullptr;
  return found ? found : text;
}

std::string Language::plural(const char* one, const char* many, std::int64_t n) const {
  const Messages* m = messages(catalogue_);
  const char* found =
      m ? m->get(0, nullptr, one, static_cast<int>(std::clamp<std::int64_t>(n, 0, 1000000000))) : nullptr;
  return found ? found : n == 1 ? one : many;
}

std::string Language::of_record(const std::string& text) const {
  std::string found = trc("record", text);
  return found == text ? isolated(text) : found;
}

std::string Language::of_shop(const char* sense, const std::string& text) const {
  constexpr std::string_view between = "; ";
  std::string out;
  for (std::size_t from = 0; from < text.size();) {
    const auto end = std::min(text.find(between, from), text.size());
    const std::string piece = text.substr(from, end - from);
    const std::string found = trc(sense, piece);
    out += (out.empty() ? "" : std::string(between)) + (found == piece ? isolated(piece) : found);
    from = end + between.size();
  }
  return out;
}

std::string Language::number(std::string text) const {
  const std::string mark = trc("decimal mark", ".");
  const auto at = text.find('.');
  return at == std::string::npos ? text : text.replace(at, 1, mark);
}

std::string Language::isolated(const std::string& text) const {
  return right_to_left() && !text.empty() ? "\u2068" + text + "\u2069" : text;
}
std::string Language::ltr(const std::string& text) const {
  return right_to_left() && !text.empty() ? "\u2066" + text + "\u2069" : text;
}
}  // namespace hb::sheet
