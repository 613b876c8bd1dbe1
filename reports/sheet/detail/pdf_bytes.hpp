/// Private to what changes PDFs with qpdf (C++17): the same document gives the same bytes.
#pragma once

#include <memory>
#include <qpdf/Buffer.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFWriter.hh>
#include <string>

namespace hb::sheet {
/// Throws std::exception.
inline std::string bytes_of(QPDF& document) {
  QPDFWriter writer(document);
  writer.setOutputMemory();
  writer.setDeterministicID(true);
  writer.write();
  const std::shared_ptr<Buffer> out = writer.getBufferSharedPointer();
  return std::string(reinterpret_cast<const char*>(out->getBuffer()), out->getSize());
}
}  // namespace hb::sheet
