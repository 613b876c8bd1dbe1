// Ten thousand random edits of sealed sheets: none of them is authentic.
#include <random>

#include "sealed_samples.hpp"

namespace hb::sheet {
namespace {

/// One edit at random places: a byte changed, a span inserted, deleted, or exchanged with another. Never
/// gives the file back as it was.
class Editor {
 public:
  explicit Editor(std::uint32_t seed) : random_(seed) {}
  std::string edited(const std::string& file) {
    for (;;) {
      std::string out = file;
      const std::size_t at = below(out.size()), n = 1 + below(below(4) == 0 ? 400 : 6);
      switch (below(4)) {
        case 0:
          out.insert(at, below(2) == 0 ? file.substr(below(file.size()), n) : std::string(1, byte()));
          break;
        case 1:
          out.erase(at, n);
          break;
        case 2:
          out[at] = below(2) == 0 ? static_cast<char>(out[at] ^ (1 << below(8))) : byte();
          break;
        default: {
          const std::size_t other = below(out.size());
          const std::size_t first = std::min(at, other), second = std::max(at, other);
          const std::string a = out.substr(first, std::min(n, second - first)),
                            b = out.substr(second, a.size());
          out.replace(second, b.size(), a);
          out.replace(first, a.size(), b);
        }
      }
      if (out != file) return out;
    }
  }

 private:
  std::size_t below(std::size_t n) { return std::uniform_int_distribution<std::size_t>(0, n - 1)(random_); }
  char byte() { return static_cast<char>(below(256)); }
  std::mt19937 random_;
};

TEST(Edits, OfTenThousandNoneIsAuthentic) {
  const SealedSample s("plank_untested");
  sign::KeyRing ring;
  ring.add(s.key.public_key(), "bench");
  const std::string html = s.html(), pdf = s.pdf(), record = sign::record_slot(s.in.record_jws);
  const auto status = [&](const std::string& file, bool is_pdf) {
    const auto carried = is_pdf ? attached_record(file) : Result<std::string>(std::string());
    return sign::verify_sealed(file, ring, carried ? *carried : std::string()).status;
  };
  ASSERT_EQ(status(html, false), sign::SealStatus::authentic);
  ASSERT_EQ(status(pdf, true), sign::SealStatus::authentic);
  std::size_t taken = 0, record_untouched = 0, pdf_still_opens = 0;
  Editor editor(20261125);
  for (int i = 0; i < 10000; ++i) {
    const bool is_pdf = i % 4 == 3;
    const std::string& whole = is_pdf ? pdf : html;
    const std::string file = editor.edited(whole);
    if (status(file, is_pdf) == sign::SealStatus::authentic) {
      ++taken;
      ADD_FAILURE() << "edit " << i << " of the " << (is_pdf ? "PDF" : "page") << " is taken for authentic";
    }
    record_untouched += !is_pdf && file.find(record) != std::string::npos;
    pdf_still_opens += is_pdf && attached_record(file).value_or("") == s.in.record_jws;
  }
  EXPECT_EQ(taken, 0U);
  // A check of the record alone would have let these pass: the edits do hit what only the seal covers.
  EXPECT_GT(record_untouched, 2000U);
  EXPECT_GT(pdf_still_opens, 100U);
}
}  // namespace
}  // namespace hb::sheet
