/// Where a test keeps its ledgers: files of a fresh folder, or schemas of a private PostgreSQL server. Each
/// program of the shared suites is linked with one of the two.
#pragma once

#include <memory>
#include <string>

namespace hb::testing_support {
class Site {
 public:
  Site();
  Site(const Site&) = delete;
  Site& operator=(const Site&) = delete;
  ~Site();
  /// What Ledger::open takes. The same name gives the same place.
  [[nodiscard]] std::string operator/(const char* name) const;
  /// Runs SQL past the ledger. "": done; kRefused: a constraint or trigger said no; else what went wrong.
  [[nodiscard]] std::string change(const char* name, const std::string& sql) const;
  static constexpr const char* kRefused = "refused";
  /// To be put before SQL that would be refused.
  [[nodiscard]] std::string without_triggers() const;
  [[nodiscard]] std::string blob(const std::string& hex) const;  ///< a literal
  /// What SQL selects, a line a row, '|' between columns.
  [[nodiscard]] std::string rows(const char* name, const std::string& sql) const;
  /// SQL for table|column, of all that the ledger has, in order.
  [[nodiscard]] std::string columns_sql() const;
  void copy(const char* from, const char* to) const;  ///< `to` is replaced

 private:
  struct Impl;
  std::unique_ptr<Impl> impl_;
};
}  // namespace hb::testing_support
