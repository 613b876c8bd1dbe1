#include <algorithm>
#include <set>
#include <stdexcept>

#include "reports/ledger/ledger.hpp"
#include "tests/reports/ledger/history.hpp"
#include "tests/reports/ledger/postgres_server.hpp"
#include "tests/reports/ledger/site.hpp"

namespace hb::testing_support {
/// A schema for each name, of a number that no other site of this program has.
struct Site::Impl {
  std::string prefix;
  std::set<std::string> made;

  std::string schema(const char* name) {
    std::string s = prefix + name;
    std::replace(s.begin(), s.end(), '.', '_');
    if (made.insert(s).second && !postgres().sql("public", "CREATE SCHEMA " + s).empty())
      throw std::runtime_error("cannot make the schema " + s);
    return s;
  }
};

Site::Site() : impl_(std::make_unique<Impl>()) {
  static int sites = 0;
  impl_->prefix = "site" + std::to_string(++sites) + "_";
}
Site::~Site() = default;

std::string Site::operator/(const char* name) const { return postgres().place(impl_->schema(name)); }

std::string Site::change(const char* name, const std::string& sql) const {
  const auto state = postgres().sql(impl_->schema(name), sql);
  return state.substr(0, 2) == "23" ? kRefused : state;
}

std::string Site::without_triggers() const { return "SET session_replication_role = replica;"; }

std::string Site::blob(const std::string& hex) const { return "'\\x" + hex + "'::bytea"; }

std::string Site::rows(const char* name, const std::string& sql) const {
  return postgres().rows(impl_->schema(name), sql);
}

std::string Site::columns_sql() const {
  return "SELECT table_name, column_name FROM information_schema.columns WHERE table_schema = "
         "current_schema() "
         "ORDER BY 1, 2";
}

void Site::copy(const char* from, const char* to) const {
  const auto source = impl_->schema(from), target = impl_->schema(to);
  std::string sql = "DROP SCHEMA " + target + " CASCADE; CREATE SCHEMA " + target;
  if (!postgres().sql("public", sql).empty()) throw std::runtime_error("copy");
  if (!ledger::Ledger::open(postgres().place(target), ledger_key(), fixed_time()))
    throw std::runtime_error("copy");
  sql.clear();
  for (const char* table : {"entry", "head", "derived_index", "node", "disclosure"})
    sql += std::string("INSERT INTO ") + table + " SELECT * FROM " + source + "." + table + ";";
  if (!postgres().sql(target, sql).empty()) throw std::runtime_error("copy");
}
}  // namespace hb::testing_support
