/// Private to what reads PDFs with qpdf (C++17): decoding that gives up at a limit, so that a small file
/// cannot fill the memory.
#pragma once

#include <qpdf/Pipeline.hh>
#include <qpdf/QPDFObjectHandle.hh>
#include <stdexcept>
#include <string>

namespace hb::sheet {
class Limited : public Pipeline {
 public:
  explicit Limited(std::size_t max) : Pipeline("limited", nullptr), max_(max) {}
  void write(const unsigned char* data, std::size_t n) override {
    if (text_.size() + n > max_) throw std::length_error("a stream of the PDF is too large");
    text_.append(reinterpret_cast<const char*>(data), n);
  }
  void finish() override {}
  [[nodiscard]] std::string take() { return std::move(text_); }

 private:
  std::size_t max_;
  std::string text_;
};

/// Decoded as far as `level` goes. Throws std::exception.
inline std::string decoded(QPDFObjectHandle stream, std::size_t max,
                           qpdf_stream_decode_level_e level = qpdf_dl_generalized) {
  Limited out(max);
  bool filtered = false;  // never at qpdf_dl_none, which gives the octets as they are
  if (!stream.pipeStreamData(&out, &filtered, 0, level, true) || (level != qpdf_dl_none && !filtered))
    throw std::runtime_error("a stream cannot be decoded");
  return out.take();
}
}  // namespace hb::sheet
