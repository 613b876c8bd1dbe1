/// The sections of a profile that a check reads, and their values once they were validated.
/// Threads: value types; any thread.
#pragma once

#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <variant>
#include <vector>

#include "harness/base/gate.hpp"

namespace hb::checks {

/// A key that a check reads from its profile section. `expects` finishes the sentence "expected ...".
enum class KeyType { number, integer, text, boolean, numbers };
struct KeySpec {
  Term key;
  KeyType type = KeyType::number;
  Term expects;
  bool required = true;
  double min = -1e12, max = 1e12;  ///< numbers and the elements of `numbers`
};
/// `array`: written as [[name]] tables, one a part, each with a `name` key (text, unique), which is implied.
struct SectionSpec {
  Term name;
  bool array = false;
  std::vector<KeySpec> keys;
};

/// A value as TOML has it; which of these a key holds is settled by its KeySpec.
using Setting = std::variant<bool, long long, double, std::string, std::vector<double>>;

/// One validated table of a profile. Getters: the key must be in the spec (else std::logic_error); an absent
/// optional key gives the fallback.
class Section {
 public:
  ShopText name;  ///< of an array table; empty for a plain one
  [[nodiscard]] double number(std::string_view key, double fallback = 0) const;
  [[nodiscard]] long long integer(std::string_view key, long long fallback = 0) const;
  [[nodiscard]] bool boolean(std::string_view key, bool fallback = false) const;
  [[nodiscard]] std::string text(std::string_view key, std::string fallback = {}) const;
  [[nodiscard]] std::vector<double> numbers(std::string_view key) const;
  [[nodiscard]] bool has(std::string_view key) const { return values.contains(key); }
  std::map<std::string, Setting, std::less<>> values;
};
/// What a check gets to configure itself: sections by name; more than one for array sections.
struct Sections {
  std::vector<std::pair<std::string, Section>> all;
  [[nodiscard]] std::vector<const Section*> named(std::string_view name) const;
  [[nodiscard]] const Section* one(std::string_view name) const;  ///< nullptr if absent
};

}  // namespace hb::checks
