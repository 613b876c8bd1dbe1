#include <sqlite3.h>

#include "tests/reports/ledger/site.hpp"
#include "tests/reports/record/temp_folder.hpp"

namespace hb::testing_support {
struct Site::Impl {
  TempFolder folder;
};

Site::Site() : impl_(std::make_unique<Impl>()) {}
Site::~Site() = default;

std::string Site::operator/(const char* name) const { return (impl_->folder / name).string(); }

std::string Site::change(const char* name, const std::string& sql) const {
  sqlite3* db = nullptr;
  std::string out;
  int code = sqlite3_open((*this / name).c_str(), &db);
  if (code == SQLITE_OK) code = sqlite3_exec(db, sql.c_str(), nullptr, nullptr, nullptr);
  if (code != SQLITE_OK) out = code == SQLITE_CONSTRAINT ? kRefused : sqlite3_errmsg(db);
  sqlite3_close(db);
  return out;
}

std::string Site::without_triggers() const {
  return "DROP TRIGGER entry_is_never_changed; DROP TRIGGER entry_is_never_deleted;"
         "DROP TRIGGER head_is_never_changed; DROP TRIGGER head_is_never_deleted;"
         "DROP TRIGGER disclosure_is_never_changed; DROP TRIGGER disclosure_goes_only_when_erased;";
}

std::string Site::blob(const std::string& hex) const { return "x'" + hex + "'"; }

std::string Site::rows(const char* name, const std::string& sql) const {
  sqlite3* db = nullptr;
  std::string out;
  const auto add = [](void* to, int n, char** values, char**) {
    for (int i = 0; i < n; ++i)
      (*static_cast<std::string*>(to) += i == 0 ? "" : "|") += values[i] == nullptr ? "" : values[i];
    *static_cast<std::string*>(to) += '\n';
    return 0;
  };
  if (sqlite3_open((*this / name).c_str(), &db) != SQLITE_OK ||
      sqlite3_exec(db, sql.c_str(), add, &out, nullptr) != SQLITE_OK)
    out = sqlite3_errmsg(db);
  sqlite3_close(db);
  return out;
}

std::string Site::columns_sql() const {
  return "SELECT m.name, p.name FROM sqlite_master m JOIN pragma_table_info(m.name) p WHERE m.type = 'table' "
         "ORDER BY 1, 2";
}

void Site::copy(const char* from, const char* to) const {
  std::filesystem::copy_file(*this / from, *this / to, std::filesystem::copy_options::overwrite_existing);
}
}  // namespace hb::testing_support
