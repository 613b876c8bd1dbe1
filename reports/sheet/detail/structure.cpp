// Compiled as C++17 (see CMakeLists.txt), like attachment.cpp.
#define POINTERHOLDER_TRANSITION 4
#include "structure.hpp"

#include <qpdf/QPDF.hh>

#include "pdf_bytes.hpp"

namespace hb::sheet {
namespace {
constexpr int kDepth = 32;

/// Walks the structure (ISO 32000-1, 14.7.2) in reading order.
class Walk {
 public:
  explicit Walk(const std::vector<std::string>& figures) : figures_(figures) {}

  void element(QPDFObjectHandle node, int depth) {
    if (depth > kDepth || !node.isDictionary() || !node.hasKey("/K")) return;
    auto named = node.getKey("/S");
    const std::string type = named.isName() ? named.getName() : "";
    if (type == "/Figure" && next_ < figures_.size())
      node.replaceKey("/Alt", QPDFObjectHandle::newUnicodeString(figures_[next_++]));
    if (type == "/Table") rows_ = 0;
    if (type == "/TR") ++rows_;
    if (type == "/TH")
      node.replaceKey("/A", QPDFObjectHandle::parse(rows_ == 1 ? "<< /O /Table /Scope /Column >>"
                                                               : "<< /O /Table /Scope /Row >>"));
    auto kids = node.getKey("/K");
    if (!kids.isArray()) return element(kids, depth + 1);
    for (int i = 0; i < kids.getArrayNItems(); ++i) element(kids.getArrayItem(i), depth + 1);
  }

 private:
  const std::vector<std::string>& figures_;
  std::size_t next_ = 0;
  int rows_ = 0;  ///< of the table so far
};
}  // namespace

Result<std::string> structured(const std::string& pdf, const std::vector<std::string>& figures) {
  try {
    QPDF doc;
    doc.processMemoryFile("sheet", pdf.data(), pdf.size());
    Walk(figures).element(doc.getRoot().getKey("/StructTreeRoot"), 0);
    return bytes_of(doc);
  } catch (const std::exception& e) {
    return Error{ErrorCode::internal, std::string("the PDF could not be written: ") + e.what(), "sheet",
                 "Report this as a defect."};
  }
}
}  // namespace hb::sheet
