// The schema that editors get says what the loader says, by a validator and a TOML reader that are not ours
// (python3-jsonschema, Python's tomllib).
#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "checks/registry.hpp"
#include "profiles/profiles.hpp"
#include "tests/support/process.hpp"

namespace hb::profiles {
namespace {
struct Mistake {
  const char* name;
  const char* before;  ///< in petal.toml
  const char* after;
};

const Mistake kMistakes[] = {
    {"UnknownKey", "fold_y_px = 1320", "fold_y_pixels = 1320"},
    {"TextForANumber", "touch_max_x = 1079", "touch_max_x = \"1079\""},
    {"NumberOutOfRange", "width_mm = 70.0", "width_mm = -70.0"},
    {"FractionForAWholeNumber", "touch_max_x = 1079", "touch_max_x = 1079.5"},
    {"RequiredKeyMissing", "width_mm = 70.0\n", ""},
    {"PartWithoutAName", "name = \"inner\"\n", ""},
    {"UnknownMeasure", "touch_grid.devices_found", "touch_grid.device_count"},
    {"LimitWithoutABound", "lower = 2\norigin", "origin"},
    {"LimitWithoutAnOrigin", "lower = 2\norigin = \"common practice\"", "lower = 2"},
    {"UnknownOrigin", "lower = 2\norigin = \"common practice\"", "lower = 2\norigin = \"hearsay\""},
    {"UnknownCheck", "\"radios\"", "\"radio\""},
    {"CheckTwice", "\"radios\"", "\"radios\", \"radios\""},
    {"SectionAndLimitsOfACheckThatIsNotListed", "\"radios\", ", ""},
    {"UnknownSection", "[radios]", "[radio]"},
    {"TableInPlaceOfAList", "[[cover]]\nname = \"back cover\"\n\n[[cover]]", "[cover]"},
    {"NoNameForTheSheet", "name = \"Velmora Petal\"\n", ""},
};

std::vector<std::string> lines(const std::string& text) {
  std::vector<std::string> out;
  std::istringstream in(text);
  for (std::string line; std::getline(in, line);) out.push_back(line);
  return out;
}

bool have_validator() { return test::run({"python3", "-c", "import jsonschema, tomllib"}).code == 0; }

class ProfileSchema : public testing::Test {
 protected:
  /// What the foreign validator says of each file, in their order.
  std::vector<std::string> judged(const std::vector<std::string>& files) {
    const auto schema_file = folder_ / "schema.json";
    std::ofstream(schema_file) << schema(known_);
    std::vector<std::string> words{"python3", HB_SOURCE_DIR "/tests/profiles/validate.py", schema_file};
    words.insert(words.end(), files.begin(), files.end());
    const auto r = test::run(words);
    EXPECT_EQ(r.code, 0) << r.err;
    return lines(r.out);
  }
  std::vector<std::unique_ptr<checks::AnyCheck>> known_ = checks::all_checks();
  test::TempFolder folder_;
};

TEST_F(ProfileSchema, TheShippedProfilesAreGood) {
  if (!have_validator()) GTEST_SKIP() << "python3-jsonschema is not installed";
  std::vector<std::string> files;
  for (const auto& f : find_files({shipped_folder()})) files.push_back(f.string());
  ASSERT_GE(files.size(), 2u);
  EXPECT_EQ(judged(files), std::vector<std::string>(files.size(), "good"));
}

TEST_F(ProfileSchema, AMistakeThatTheLoaderNamesIsNoGoodThereEither) {
  if (!have_validator()) GTEST_SKIP() << "python3-jsonschema is not installed";
  const auto petal = test::slurp(shipped_folder() / "petal.toml");
  std::vector<std::string> files;
  for (const auto& m : kMistakes) {
    auto text = petal;
    const auto at = text.find(m.before);
    ASSERT_NE(at, std::string::npos) << m.name << ": petal.toml has changed, and the test has to follow";
    text.replace(at, std::string(m.before).size(), m.after);
    files.push_back(folder_ / (std::string(m.name) + ".toml"));
    std::ofstream(files.back()) << text;
    EXPECT_FALSE(load_text(text, m.name, known_).problems.empty()) << m.name;
  }
  const auto said = judged(files);
  ASSERT_EQ(said.size(), files.size());
  for (std::size_t i = 0; i < said.size(); ++i) EXPECT_NE(said[i], "good") << kMistakes[i].name;
}
}  // namespace
}  // namespace hb::profiles
