#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <set>
#include <sstream>

#include "harness/base/encoding.hpp"
#include "harness/base/text.hpp"
#include "validate.hpp"

namespace hb::profiles {
namespace fs = std::filesystem;

Loaded load_text(std::string_view text, std::string file, Checks known) {
  if (!valid_utf8(text))
    return {std::nullopt,
            {Error{ErrorCode::bad_format, "the file is not UTF-8 text", file, "Save it as UTF-8."}}};
  try {
    const toml::table doc = toml::parse(text, file);
    auto loaded = Validator(file, known).run(doc);
    if (loaded.profile) loaded.profile->sha256 = hex(sha256(as_bytes(text)));
    return loaded;
  } catch (const toml::parse_error& e) {
    return {std::nullopt,
            {Error{ErrorCode::bad_format, fmt::format("not TOML: {}", printable(e.description(), 160)),
                   fmt::format("{}:{}:{}", file, e.source().begin.line, e.source().begin.column),
                   "Mend the line and load it again."}}};
  }
}

Loaded load(const fs::path& file, Checks known) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream text;
  if (in) text << in.rdbuf();
  if (!in)
    return {std::nullopt,
            {Error{ErrorCode::not_found, "the profile cannot be read", file.string(),
                   "See the profiles that are there with 'handback profile list', or make one with 'handback "
                   "profile new'."}}};
  return load_text(text.str(), file.string(), known);
}

std::vector<fs::path> find_files(const std::vector<fs::path>& folders) {
  std::vector<fs::path> out;
  for (const auto& f : folders) {
    std::error_code ec;
    const auto first = static_cast<std::ptrdiff_t>(out.size());
    for (fs::directory_iterator it(f, ec), end; !ec && it != end; it.increment(ec))
      if (it->path().extension() == ".toml") out.push_back(it->path());
    std::sort(out.begin() + first, out.end());
  }
  return out;
}

fs::path shipped_folder() {
  std::error_code ec;
  const auto self = fs::read_symlink("/proc/self/exe", ec);
  return self.parent_path().parent_path() / "share" / "handback" / "profiles";
}

std::string skeleton(Checks known) {
  std::string out =
      "# A profile: one model. Fill in what you know; 'handback profile check FILE' names what is "
      "missing.\n\n[phone]\n"
      "name = \"\"      # shown on the sheet\ndevice = \"\"    # the phone's ro.product.device\nmodel = \"\" "
      "    # the phone's "
      "ro.product.model\nchecks = [";
  for (const auto& c : known)
    out += fmt::format("\"{}\"{}", c->info().id.view(), &c == &known.back() ? "" : ", ");
  out += "]\n";
  std::set<std::string> seen;
  for (const auto& c : known)
    for (const auto& s : c->sections()) {
      if (!seen.insert(s.name.str()).second) continue;
      out += fmt::format("\n# read by {}\n{}\n", c->info().id.view(),
                         s.array ? "[[" + s.name.str() + "]]" : "[" + s.name.str() + "]");
      if (s.array) out += "name = \"\"\n";
      for (const auto& k : s.keys)
        out +=
            fmt::format("# {} =   # {}{}\n", k.key.view(), k.expects.view(), k.required ? "" : " (optional)");
    }
  out +=
      "\n# [disturbs] narrows which results are stale when a part was opened again; a part that is not named "
      "here\n# makes all of them stale. Name only what you know.\n# [disturbs]\n# speaker = [\"sound\"]\n";
  out += "\n# Limits: lower, upper or both; origin is \"maker\", \"learned\" or \"common practice\".\n";
  for (const auto& c : known)
    for (const auto& m : c->limit_keys())
      out += fmt::format("# [[limit]]\n# measure = \"{}\"\n# upper =\n# origin = \"common practice\"\n",
                         m.view());
  return out;
}
}  // namespace hb::profiles
