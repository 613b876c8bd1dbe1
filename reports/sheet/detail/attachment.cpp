// Compiled as C++17 (see CMakeLists.txt). The library asks each user to choose: 4 is std::shared_ptr
// throughout.
#define POINTERHOLDER_TRANSITION 4
#include "attachment.hpp"

#include <fmt/format.h>

#include <qpdf/QPDF.hh>
#include <qpdf/QPDFEmbeddedFileDocumentHelper.hh>
#include <qpdf/QPDFFileSpecObjectHelper.hh>

#include "../sheet.hpp"
#include "limited.hpp"
#include "pdf_bytes.hpp"

namespace hb::sheet {
namespace {
constexpr char kName[] = "record.jws";
constexpr std::size_t kMaxPdf = 64U << 20, kMaxRecord = 16U << 20;

Error failed(const std::exception& e) {
  return Error{ErrorCode::internal, std::string("the PDF could not be written: ") + e.what(), "sheet",
               "Report this as a defect."};
}
}  // namespace

Result<std::string> attach(const std::string& pdf, const std::string& record_jws,
                           const std::string& language) {
  try {
    QPDF doc;
    doc.processMemoryFile("sheet", pdf.data(), pdf.size());
    auto stream = QPDFEFStreamObjectHelper::createEFStream(doc, record_jws);
    stream.setSubtype("application/jose");
    auto file = QPDFFileSpecObjectHelper::createFileSpec(doc, kName, stream);
    file.setDescription("The signed record that this sheet was made from");
    QPDFEmbeddedFileDocumentHelper(doc).replaceEmbeddedFile(kName, file);
    doc.getRoot().replaceKey("/Lang", QPDFObjectHandle::newString(language));
    doc.getRoot().replaceKey("/ViewerPreferences", QPDFObjectHandle::parse("<< /DisplayDocTitle true >>"));
    return bytes_of(doc);
  } catch (const std::exception& e) {
    return failed(e);
  }
}

Result<std::string> with_slot(std::string pdf, const std::string& slot) {
  const auto from = pdf.rfind("startxref\n");
  if (from == std::string::npos)
    return Error{ErrorCode::internal, "the PDF has no end that could be repeated", "sheet",
                 "Report this as a defect."};
  if (pdf.back() != '\n') pdf += '\n';
  const std::string end = pdf.substr(from);
  return pdf + "%" + slot + "\n" + end;
}

Result<std::string> attached_record(std::string_view pdf) {
  const Error broken{ErrorCode::bad_format, "this is not a readable PDF", "PDF",
                     "Give the PDF file as it was handed over."};
  if (pdf.size() > kMaxPdf || pdf.substr(0, 5) != "%PDF-") return broken;
  try {
    QPDF doc;
    doc.setSuppressWarnings(true);
    doc.setAttemptRecovery(false);
    doc.processMemoryFile("sheet", pdf.data(), pdf.size());
    const auto file = QPDFEmbeddedFileDocumentHelper(doc).getEmbeddedFile(kName);
    if (!file)
      return Error{ErrorCode::not_found, "this PDF carries no signed record", kName,
                   "Give the sheet that the shop handed over."};
    return decoded(file->getEmbeddedFileStream(), kMaxRecord);
  } catch (const std::exception&) {
    return broken;
  }
}
}  // namespace hb::sheet
