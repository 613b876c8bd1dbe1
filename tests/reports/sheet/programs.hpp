// Other people's programs on a sheet, and a folder to run them in.
#pragma once

#include <gtest/gtest.h>
#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>
#include <vector>

namespace hb::sheet {
namespace fs = std::filesystem;

struct Ran {
  int status = -1;
  std::string out;
};
inline Ran run(const std::string& command, const char* errors = " 2>&1") {
  Ran r;
  FILE* pipe = popen((command + errors).c_str(), "r");
  if (!pipe) return r;
  std::array<char, 4096> buffer{};
  for (std::size_t n = 0; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;)
    r.out.append(buffer.data(), n);
  const int status = pclose(pipe);
  r.status = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return r;
}

/// A PDF in a folder of its own, removed at the end.
class OnDisk {
 public:
  explicit OnDisk(const std::string& pdf) {
    std::string name = (fs::temp_directory_path() / "handback-sheet-XXXXXX").string();
    folder_ = mkdtemp(name.data());
    std::ofstream(path("sheet.pdf"), std::ios::binary) << pdf;
  }
  ~OnDisk() { fs::remove_all(folder_); }
  OnDisk(const OnDisk&) = delete;
  OnDisk& operator=(const OnDisk&) = delete;
  [[nodiscard]] std::string path(const std::string& name) const { return (folder_ / name).string(); }

 private:
  fs::path folder_;
};

/// A word of the page and where it stands: points, from the top left corner.
struct WordBox {
  double x0 = 0, y0 = 0, x1 = 0, y1 = 0;
  std::string line;  ///< of pdftotext, for messages
};
/// All words of sheet.pdf, by pdftotext.
inline std::vector<WordBox> word_boxes(const OnDisk& disk) {
  const std::string boxes = run("pdftotext -bbox " + disk.path("sheet.pdf") + " -").out;
  std::vector<WordBox> out;
  for (auto at = boxes.find("<word "); at != std::string::npos; at = boxes.find("<word ", at + 1)) {
    WordBox w;
    w.line = boxes.substr(at, 120);
    EXPECT_EQ(std::sscanf(w.line.c_str(), "<word xMin=\"%lf\" yMin=\"%lf\" xMax=\"%lf\" yMax=\"%lf\"", &w.x0,
                          &w.y0, &w.x1, &w.y1),
              4)
        << w.line;
    out.push_back(std::move(w));
  }
  return out;
}

inline bool have(const char* program) { return run(std::string("command -v ") + program).status == 0; }
#define NEED(program) \
  if (!have(program)) GTEST_SKIP() << program << " is not installed"

/// Text with every run of white space, no-break spaces too, as one space.
inline std::string flat(std::string s) {
  for (const std::string nb : {"\u00A0", "\u202F"})
    for (auto at = s.find(nb); at != std::string::npos; at = s.find(nb)) s.replace(at, nb.size(), " ");
  std::string out;
  for (const char c : s)
    if (!isspace(static_cast<unsigned char>(c)))
      out += c;
    else if (!out.empty() && out.back() != ' ')
      out += ' ';
  return out;
}

inline std::string slurped(const std::string& file) {
  std::ifstream in(file, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}
}  // namespace hb::sheet
