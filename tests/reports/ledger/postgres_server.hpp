/// A PostgreSQL server of the test's own, in a temporary folder, that listens on a unix socket only and goes
/// with this program. As root it runs as the user "postgres". Threads: one.
#pragma once

#include <sys/types.h>

#include <memory>
#include <string>
#include <vector>

#include "tests/reports/record/temp_folder.hpp"

namespace hb::testing_support {
class PostgresServer {
 public:
  /// Empty: Debian's package postgresql is not installed.
  [[nodiscard]] static std::string find_programs();
  explicit PostgresServer(std::string programs);  ///< std::runtime_error when it does not start
  PostgresServer(const PostgresServer&) = delete;
  PostgresServer& operator=(const PostgresServer&) = delete;
  ~PostgresServer();
  [[nodiscard]] std::string place(const std::string& schema) const;
  void start();
  void crash();  ///< at once, without a checkpoint: what is not in the log on the disk is lost
  /// "" or the SQLSTATE. One connection a call.
  [[nodiscard]] std::string sql(const std::string& schema, const std::string& text) const;
  [[nodiscard]] std::string value(const std::string& text) const;  ///< of one row and column
  /// A line a row, '|' between columns.
  [[nodiscard]] std::string rows(const std::string& schema, const std::string& text) const;

 private:
  [[nodiscard]] pid_t launch(const std::vector<std::string>& words, int errors) const;
  TempFolder folder_;
  std::string programs_;
  pid_t pid_ = -1;
  int log_ = -1;
};

/// Of this program; started before its first test.
PostgresServer& postgres();
}  // namespace hb::testing_support
