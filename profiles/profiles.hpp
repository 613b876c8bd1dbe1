/// Profiles: one TOML file a model. Everything that differs between models is here, and nothing else is: an
/// `if` on a model's name anywhere is a defect.
///
/// A profile is checked whole when it is loaded, against what the checks say that they read: an unknown key,
/// a wrong type, a number out of range or a limit on a measure that no check makes is a problem that names
/// file, line, key and what was expected. Nothing is guessed.
/// Threads: value types and pure functions; loading reads files.
#pragma once

#include <filesystem>
#include <map>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <span>
#include <string>
#include <vector>

#include "checks/definition.hpp"

namespace hb::profiles {

struct Profile {
  ShopText name;                    ///< shown on the sheet
  std::string device, model;        ///< ro.product.device and ro.product.model of the phones that it fits
  std::vector<std::string> checks;  ///< in the order in which they run
  checks::Sections sections;
  std::vector<checks::Limit> limits;
  /// [disturbs]: part opened again -> checks whose earlier results it spoils. A part that is not here spoils
  /// all.
  std::map<std::string, std::set<std::string>> disturbs;
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

/// Every *.toml of the folders, in the order of the folders and by name in each, so that a bench's own
/// profile of a model comes before a shipped one; folders that do not exist are skipped.
[[nodiscard]] std::vector<std::filesystem::path> find_files(
    const std::vector<std::filesystem::path>& folders);

/// A profile with every key that the checks read, commented, as a start for a new model.
[[nodiscard]] std::string skeleton(Checks known);

/// The format as a JSON Schema (2020-12), for editors that complete and check TOML by one. It cannot say all
/// that load() checks: that lower is below upper, that a limit's part exists, that part names differ.
[[nodiscard]] nlohmann::json schema(Checks known);

/// Folder of the shipped profiles: ../share/handback/profiles beside the running program, installed or not.
[[nodiscard]] std::filesystem::path shipped_folder();
}  // namespace hb::profiles
