/// Profiles: one TOML file a model. Everything that differs between models is here, and nothing else is: an
/// `if` on a model's name anywhere is a defect.
///
/// A profile is checked whole when it is loaded, against what the checks say that they read: an unknown key,
/// a wrong type, a number out of range or a limit on a measure that no check makes is a problem that names
/// file, line, key and what was expected. Nothing is guessed.
/// Threads: value types and pure functions; loading reads files.
#pragma once

#include <filesystem>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "checks/check.hpp"

namespace hb::profiles {

struct Profile {
  ShopText name;                    ///< shown on the sheet
  std::string device, model;        ///< ro.product.device and ro.product.model of the phones that it fits
  std::vector<std::string> checks;  ///< in the order in which they run
  checks::Sections sections;
  std::vector<checks::Limit> limits;
  std::string sha256;  ///< hex, of the file's bytes
  std::string file;
};

/// All problems, in the order of the file; a profile only when there are none.
struct Loaded {
  std::optional<Profile> profile;
  std::vector<Error> problems;
};

using Checks = std::span<const std::unique_ptr<checks::AnyCheck>>;

[[nodiscard]] Loaded load(const std::filesystem::path& file, Checks known);
[[nodiscard]] Loaded load_text(std::string_view toml, std::string file_name, Checks known);

/// Every *.toml of the folders, sorted by name; folders that do not exist are skipped.
[[nodiscard]] std::vector<std::filesystem::path> find_files(
    const std::vector<std::filesystem::path>& folders);

/// A profile with every key that the checks read, commented, as a start for a new model.
[[nodiscard]] std::string skeleton(Checks known);
}  // namespace hb::profiles
