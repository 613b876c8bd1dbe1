// Compiled as C++17 (see CMakeLists.txt): the text that a PDF's page shows, by its fonts' ToUnicode maps
// (ISO 32000-1, 9.4 and 9.10). A font without such a map is taken as Latin letters.
#define POINTERHOLDER_TRANSITION 4
#include <boost/locale/encoding_utf.hpp>
#include <map>
#include <memory>
#include <optional>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>

#include "../page_text.hpp"
#include "limited.hpp"

namespace hb::sheet {
namespace {
constexpr std::size_t kMaxContent = 16U << 20, kMaxMap = 1U << 20, kMaxText = 1U << 20, kMaxPdf = 64U << 20;
constexpr int kMaxNested = 4, kMaxPages = 4;

struct Font {
  std::size_t octets = 1;  ///< of a code
  bool mapped = false;
  std::map<unsigned, std::string> text;
};

/// UTF-16BE to UTF-8.
std::string utf8(const std::string& octets) {
  std::u16string units;
  for (std::size_t i = 0; i + 1 < octets.size(); i += 2)
    units += static_cast<char16_t>(static_cast<unsigned char>(octets[i]) << 8 |
                                   static_cast<unsigned char>(octets[i + 1]));
  return boost::locale::conv::utf_to_utf<char>(units);
}

unsigned code_of(const std::string& octets) {
  unsigned c = 0;
  for (const char o : octets) c = c << 8 | static_cast<unsigned char>(o);
  return c;
}

/// The tokens of a CMap that matter: <hex>, words, [ and ].
std::vector<std::string> map_tokens(const std::string& t) {
  std::vector<std::string> out;
  for (std::size_t i = 0; i < t.size();) {
    if (t[i] == '<' && i + 1 < t.size() && t[i + 1] != '<') {
      const auto end = std::min(t.find('>', i), t.size());
      std::string octets;
      int high = -1;
      for (std::size_t k = i + 1; k < end; ++k) {
        const char c = t[k], low = static_cast<char>(c | 0x20);
        const int d = c >= '0' && c <= '9' ? c - '0' : low >= 'a' && low <= 'f' ? low - 'a' + 10 : -1;
        if (d < 0) continue;
        if (high < 0)
          high = d;
        else
          octets += static_cast<char>(high << 4 | d), high = -1;
      }
      out.push_back("<" + octets);
      i = end + 1;
    } else if (t[i] == '[' || t[i] == ']') {
      out.emplace_back(1, t[i++]);
    } else if (std::string("\t\n\f\r <>").find(t[i]) != std::string::npos) {
      ++i;
    } else {
      const auto end = std::min(t.find_first_of("\t\n\f\r <>[]", i), t.size());
      out.push_back(t.substr(i, end - i));
      i = end;
    }
  }
  return out;
}

Font read_font(QPDFObjectHandle dict) {
  Font f;
  auto kind = dict.getKey("/Subtype");
  if (kind.isName() && kind.getName() == "/Type0") f.octets = 2;
  auto map = dict.getKey("/ToUnicode");
  if (!map.isStream()) return f;
  f.mapped = true;
  const auto t = map_tokens(decoded(map, kMaxMap));
  const auto octets = [](const std::string& s) { return s.substr(1); };
  const auto is_hex = [&](std::size_t i) { return i < t.size() && t[i][0] == '<'; };
  for (std::size_t i = 0; i < t.size(); ++i) {
    if (t[i] == "begincodespacerange" && is_hex(i + 1) && t[i + 1].size() > 1) f.octets = t[i + 1].size() - 1;
    if (t[i] == "beginbfchar")
      for (++i; is_hex(i) && is_hex(i + 1); i += 2) f.text[code_of(octets(t[i]))] = utf8(octets(t[i + 1]));
    if (i < t.size() && t[i] == "beginbfrange")
      for (++i; is_hex(i) && is_hex(i + 1);) {
        const unsigned from = code_of(octets(t[i])), to = std::min(code_of(octets(t[i + 1])), from + 0xffffU);
        i += 2;
        if (is_hex(i)) {
          std::string units = octets(t[i++]);
          for (unsigned c = from; c <= to && !units.empty(); ++c) {
            f.text[c] = utf8(units);
            units.back() = static_cast<char>(units.back() + 1);
          }
        } else if (i < t.size() && t[i] == "[") {
          unsigned c = from;
          for (++i; is_hex(i); ++i) f.text[c++] = utf8(octets(t[i]));
          ++i;
        } else {
          break;
        }
      }
  }
  if (f.octets > 4) f.octets = 1;
  return f;
}

class Reader : public QPDFObjectHandle::ParserCallbacks {
 public:
  Reader(QPDF& doc, std::string& out) : doc_(doc), out_(out) {}
  void read(QPDFObjectHandle resources, const std::string& content, int depth) {
    const auto outer = resources_;
    const int outer_depth = depth_;
    resources_ = resources;
    depth_ = depth;
    QPDFObjectHandle::parseContentStream(QPDFObjectHandle::newStream(&doc_, content), this);
    resources_ = outer;
    depth_ = outer_depth;
  }
  void handleObject(QPDFObjectHandle o) override {
    if (!o.isOperator()) {
      if (operands_.size() < 64) operands_.push_back(o);
      return;
    }
    const auto op = o.getOperatorValue();
    auto operands = std::move(operands_);
    operands_.clear();
    if (op == "Tf" && operands.size() == 2 && operands[0].isName()) choose(operands[0].getName());
    if (op == "Td" || op == "TD" || op == "Tm" || op == "T*" || op == "BT" || op == "'" || op == "\"")
      out_ += ' ';
    if (operands.empty()) return;
    auto last = operands.back();
    if ((op == "Tj" || op == "'" || op == "\"") && last.isString()) show(last.getStringValue());
    if (op == "TJ" && last.isArray())
      for (int i = 0; i < last.getArrayNItems(); ++i)
        if (auto item = last.getArrayItem(i); item.isString()) show(item.getStringValue());
    if (op == "Do" && last.isName()) form(last.getName());
  }
  void handleEOF() override {}

 private:
  void choose(const std::string& name) {
    font_ = nullptr;
    auto fonts = resources_.isDictionary() ? resources_.getKey("/Font") : QPDFObjectHandle::newNull();
    if (!fonts.isDictionary() || !fonts.getKey(name).isDictionary()) return;
    auto dict = fonts.getKey(name);
    const auto id = dict.getObjGen();
    auto it = fonts_.find(id);
    if (it == fonts_.end() || !dict.isIndirect()) it = fonts_.insert_or_assign(id, read_font(dict)).first;
    font_ = &it->second;
  }
  void show(const std::string& codes) {
    if (out_.size() > kMaxText) throw std::length_error("the page's text is too long");
    if (font_ == nullptr) return;
    for (std::size_t i = 0; i + font_->octets <= codes.size(); i += font_->octets) {
      const auto code = code_of(codes.substr(i, font_->octets));
      const auto it = font_->text.find(code);
      if (it != font_->text.end())
        out_ += it->second;
      else if (!font_->mapped && code >= 0x20 && code < 0x7f)
        out_ += static_cast<char>(code);
      else
        out_ += "\xef\xbf\xbd";
    }
  }
  void form(const std::string& name) {
    auto objects = resources_.isDictionary() ? resources_.getKey("/XObject") : QPDFObjectHandle::newNull();
    if (depth_ >= kMaxNested || ++forms_ > 1000 || !objects.isDictionary()) return;
    auto o = objects.getKey(name);
    if (!o.isStream()) return;
    auto kind = o.getDict().getKey("/Subtype");
    if (!kind.isName() || kind.getName() != "/Form") return;
    auto own = o.getDict().getKey("/Resources");
    read(own.isDictionary() ? own : resources_, decoded(o, kMaxContent), depth_ + 1);
  }
  QPDF& doc_;
  std::string& out_;
  QPDFObjectHandle resources_ = QPDFObjectHandle::newNull();
  std::vector<QPDFObjectHandle> operands_;
  std::map<QPDFObjGen, Font> fonts_;
  const Font* font_ = nullptr;
  int depth_ = 0, forms_ = 0;
};

Error unreadable() {
  return Error{ErrorCode::bad_format, "the text of this PDF cannot be read", "PDF",
               "Give the PDF file as it was handed over."};
}
}  // namespace

Result<std::vector<std::string>> pdf_words(std::string_view pdf) {
  if (pdf.size() > kMaxPdf) return unreadable();
  try {
    QPDF doc;
    doc.setSuppressWarnings(true);
    doc.processMemoryFile("sheet", pdf.data(), pdf.size());
    std::string text;
    Reader reader(doc, text);
    int pages = 0;
    for (auto& page : QPDFPageDocumentHelper(doc).getAllPages()) {
      if (++pages > kMaxPages) break;
      std::string content;
      for (auto& piece : page.getPageContents()) content += decoded(piece, kMaxContent) + "\n";
      reader.read(page.getAttribute("/Resources", false), content, 0);
      text += ' ';
    }
    return words_of(text);
  } catch (const std::exception&) {
    return unreadable();
  }
}

std::string pdf_language(std::string_view pdf) {
  try {
    QPDF doc;
    doc.setSuppressWarnings(true);
    doc.processMemoryFile("sheet", pdf.data(), pdf.size());
    auto lang = doc.getRoot().getKey("/Lang");
    return lang.isString() ? lang.getUTF8Value() : std::string();
  } catch (const std::exception&) {
    return {};
  }
}
}  // namespace hb::sheet
