// Compiled as C++17 (see CMakeLists.txt): the pictures inside a PDF, ISO 32000-1, 8.9.
#define POINTERHOLDER_TRANSITION 4
#include <memory>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFPageDocumentHelper.hh>
#include <set>

#include "limited.hpp"
#include "picture_files.hpp"

namespace hb::sheet {
namespace {
constexpr int kMaxPictures = 40, kMaxPages = 20, kMaxNested = 4;

std::uint64_t whole(const QPDFObjectHandle& dict, const char* key) {
  auto v = QPDFObjectHandle(dict).getKey(key);
  if (!v.isInteger() || v.getIntValue() < 0) return 0;
  return static_cast<std::uint64_t>(v.getIntValue());
}

/// How samples become luminance: one component is grey or an index, three are red, green and blue, four inks.
struct Colours {
  unsigned components = 0;
  std::string palette;  ///< luminance of each index; empty: not indexed
};

std::uint8_t luminance(const unsigned char* c, unsigned components) {
  if (components == 1) return c[0];
  if (components == 3) return static_cast<std::uint8_t>((299U * c[0] + 587U * c[1] + 114U * c[2]) / 1000U);
  const auto light = [&](unsigned ink) { return (255U - ink) * (255U - c[3]) / 255U; };
  return static_cast<std::uint8_t>((299U * light(c[0]) + 587U * light(c[1]) + 114U * light(c[2])) / 1000U);
}

Colours colours(QPDFObjectHandle space) {
  const auto named = [](const std::string& n) -> unsigned {
    if (n == "/DeviceGray" || n == "/CalGray" || n == "/G") return 1;
    if (n == "/DeviceRGB" || n == "/CalRGB" || n == "/RGB") return 3;
    return n == "/DeviceCMYK" || n == "/CMYK" ? 4 : 0;
  };
  if (space.isName()) return {named(space.getName()), {}};
  if (!space.isArray() || space.getArrayNItems() < 2 || !space.getArrayItem(0).isName()) return {};
  const auto kind = space.getArrayItem(0).getName();
  if (kind == "/ICCBased" && space.getArrayItem(1).isStream()) {
    const auto n = whole(space.getArrayItem(1).getDict(), "/N");
    return {n == 1 || n == 3 || n == 4 ? static_cast<unsigned>(n) : 0, {}};
  }
  if (kind != "/Indexed" || space.getArrayNItems() != 4) return {named(kind), {}};
  const auto base = colours(space.getArrayItem(1));
  if (base.components == 0 || !base.palette.empty()) return {};
  auto table = space.getArrayItem(3);
  const std::string entries = table.isStream()   ? decoded(table, 4096)
                              : table.isString() ? table.getStringValue()
                                                 : "";
  Colours out{1, {}};
  for (std::size_t i = 0; i + base.components <= entries.size(); i += base.components)
    out.palette += static_cast<char>(
        luminance(reinterpret_cast<const unsigned char*>(entries.data()) + i, base.components));
  return out;
}

Result<GreyPicture> from_samples(const std::string& data, GreyPicture p, unsigned bits, const Colours& c) {
  const std::size_t row = (std::size_t{p.width} * c.components * bits + 7) / 8;
  if (data.size() < row * p.height) return broken_picture("a picture in the PDF is not whole");
  const unsigned most = (1U << bits) - 1;
  for (std::size_t y = 0; y < p.height; ++y) {
    const auto* from = reinterpret_cast<const unsigned char*>(data.data()) + y * row;
    for (std::size_t x = 0; x < p.width; ++x) {
      unsigned char sample[4]{};
      for (unsigned k = 0; k < c.components; ++k) {
        const std::size_t bit = (x * c.components + k) * bits;
        const unsigned raw = bits == 16 ? from[bit / 8] : (from[bit / 8] >> (8 - bits - bit % 8)) & most;
        if (!c.palette.empty())
          sample[k] = raw < c.palette.size() ? static_cast<unsigned char>(c.palette[raw]) : 255;
        else
          sample[k] = static_cast<unsigned char>(bits == 16 ? raw : raw * 255U / most);
      }
      p.pixels[y * p.width + x] = luminance(sample, c.components);
    }
  }
  return p;
}

/// The fax data as the one strip of a TIFF (revision 6.0, sections 2, 8 and 11; ITU-T T.4 and T.6).
std::string as_tiff(const std::string& fax, std::uint32_t width, std::uint32_t height, long long k) {
  std::string t("II*\0\x08\0\0\0", 8);
  const auto number = [&t](std::uint64_t v, int octets) {
    for (int i = 0; i < octets; ++i) t += static_cast<char>(v >> (8 * i));
  };
  struct Field {
    unsigned tag, type;
    std::uint64_t value;
  };
  constexpr unsigned kShort = 3, kLong = 4, kFields = 10;
  const std::uint64_t data_at = 8 + 2 + kFields * 12 + 4;
  const Field fields[kFields] = {{256, kLong, width},
                                 {257, kLong, height},
                                 {258, kShort, 1},
                                 {259, kShort, k < 0 ? 4U : 3U},
                                 {262, kShort, 0},  // white is zero
                                 {273, kLong, data_at},
                                 {277, kShort, 1},
                                 {278, kLong, height},
                                 {279, kLong, fax.size()},
                                 {k < 0 ? 293U : 292U, kLong, k > 0 ? 1U : 0U}};
  number(kFields, 2);
  for (const auto& f : fields) {
    number(f.tag, 2), number(f.type, 2), number(1, 4), number(f.value, 4);
  }
  number(0, 4);
  return t + fax;
}

/// The last filter decides; what stands before it is taken off by the library, which takes all or none.
Result<GreyPicture> decode(QPDFObjectHandle image) {
  auto dict = image.getDict();
  const auto width = whole(dict, "/Width"), height = whole(dict, "/Height");
  auto p = sized(width, height, kMaxLeptPixels);
  if (!p) return p;
  auto filter = dict.getKey("/Filter"), parameters = dict.getKey("/DecodeParms");
  if (filter.isArray() && filter.getArrayNItems() == 1) filter = filter.getArrayItem(0);
  if (parameters.isArray() && parameters.getArrayNItems() == 1) parameters = parameters.getArrayItem(0);
  const std::string name = filter.isName() ? filter.getName() : "";
  if (name == "/DCTDecode" || name == "/DCT")
    return decode_picture(decoded(image, kMaxPictureFile, qpdf_dl_none));
  if (name == "/CCITTFaxDecode" || name == "/CCF") {
    const auto k = parameters.isDictionary() && parameters.getKey("/K").isInteger()
                       ? parameters.getKey("/K").getIntValue()
                       : 0;
    return decode_lept(as_tiff(decoded(image, kMaxPictureFile, qpdf_dl_none), p->width, p->height, k));
  }
  const bool mask = dict.getKey("/ImageMask").isBool() && dict.getKey("/ImageMask").getBoolValue();
  const auto bits = mask ? 1 : whole(dict, "/BitsPerComponent");
  const auto c = mask ? Colours{1, {}} : colours(dict.getKey("/ColorSpace"));
  if (c.components == 0 || (bits != 1 && bits != 2 && bits != 4 && bits != 8 && bits != 16) ||
      (bits == 16 && !c.palette.empty()))
    return broken_picture("a picture in the PDF is of a kind that is not read");
  const auto most =
      static_cast<std::size_t>(width * height * c.components * (bits == 16 ? 2 : 1) + height + 4096);
  return from_samples(decoded(image, most, qpdf_dl_all), std::move(*p), static_cast<unsigned>(bits), c);
}

class Walk {
 public:
  explicit Walk(const std::function<bool(Result<GreyPicture>)>& visit) : visit_(visit) {}
  void resources(QPDFObjectHandle holder, int depth) {
    if (!holder.isDictionary() || !holder.getKey("/XObject").isDictionary()) return;
    auto objects = holder.getKey("/XObject");
    for (const auto& name : objects.getKeys()) {
      auto o = objects.getKey(name);
      if (over_ || !o.isStream() || !seen_.insert(o.getObjGen()).second) continue;
      auto kind = o.getDict().getKey("/Subtype");
      if (kind.isName() && kind.getName() == "/Form") {
        if (depth < kMaxNested) resources(o.getDict().getKey("/Resources"), depth + 1);
      } else if (kind.isName() && kind.getName() == "/Image") {
        image(o);
      }
    }
  }
  [[nodiscard]] bool over() const { return over_; }

 private:
  void image(const QPDFObjectHandle& o) {
    Result<GreyPicture> p = broken_picture("a picture in the PDF cannot be read");
    try {
      p = decode(o);
    } catch (const std::exception&) {
    }
    over_ = !visit_(std::move(p)) || ++count_ == kMaxPictures;
  }
  const std::function<bool(Result<GreyPicture>)>& visit_;
  std::set<QPDFObjGen> seen_;
  int count_ = 0;
  bool over_ = false;
};
}  // namespace

Result<void> each_pdf_picture(std::string_view pdf, const std::function<bool(Result<GreyPicture>)>& visit) {
  const Error broken{ErrorCode::bad_format, "this is not a readable PDF", "PDF",
                     "Give the PDF file as it was handed over."};
  if (pdf.size() > kMaxPictureFile) return broken;
  try {
    QPDF doc;
    doc.setSuppressWarnings(true);
    doc.processMemoryFile("scan", pdf.data(), pdf.size());
    Walk walk(visit);
    int pages = 0;
    for (auto& page : QPDFPageDocumentHelper(doc).getAllPages()) {
      if (walk.over() || ++pages > kMaxPages) break;
      walk.resources(page.getAttribute("/Resources", false), 0);
    }
    return {};
  } catch (const std::exception&) {
    return broken;
  }
}
}  // namespace hb::sheet
