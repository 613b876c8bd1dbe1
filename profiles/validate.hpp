// Private to profiles/: the walk over a parsed document.
#pragma once

#include "profiles/profiles.hpp"

#define TOML_HEADER_ONLY 0
#include <toml++/toml.h>

namespace hb::profiles {
class Validator {
 public:
  Validator(std::string file, Checks known) : file_(std::move(file)), known_(known) {}
  [[nodiscard]] Loaded run(const toml::table& doc);

 private:
  void problem(const toml::node* at, std::string key, std::string what, std::string expected);
  void phone_table(const toml::table& doc);
  void check_sections(const toml::table& doc);
  void unknown_tables(const toml::table& doc);
  void limits(const toml::table& doc);
  void one_limit(const toml::table& t);
  void disturbs(const toml::table& doc);
  void configure();
  void section(const toml::table& t, const checks::SectionSpec& spec, const std::string& path);
  std::optional<checks::Setting> value(const toml::node& n, const checks::KeySpec& spec,
                                       const std::string& path);
  std::optional<double> bound(const toml::node& n, const checks::KeySpec& spec, const std::string& path);
  std::optional<ShopText> shop_text(const toml::node* n, const std::string& path, std::string expected,
                                    bool required);
  [[nodiscard]] std::vector<const checks::AnyCheck*> used() const;

  std::string file_;
  Checks known_;
  Profile p_;
  std::vector<Error> problems_;
};
}  // namespace hb::profiles
