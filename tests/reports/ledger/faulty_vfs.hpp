/// A SQLite VFS (https://www.sqlite.org/vfs.html) that fails on purpose: a shim over the default one. Every
/// open, read, write, truncate, sync and delete of a database or its log is an operation with a number, and
/// the plan says at which of them the disk goes wrong. What was written but not synced is remembered, so that
/// a power cut can take it away again. Threads: one.
#pragma once

#include <sqlite3.h>

#include <cstdint>
#include <filesystem>
#include <map>
#include <optional>
#include <random>
#include <string>
#include <vector>

namespace hb::testing_support {

enum class Fault {
  none,
  torn_write,  ///< a part of the bytes is written, then every call fails
  no_space,    ///< a part of the bytes is written; the disk stays full for a while, then there is room
  io_error,    ///< this one call fails
  power_cut,   ///< every call fails from here on, and settle() takes away what was not synced
  kill         ///< SIGKILL to this process; a write may be half done
};

struct Plan {
  Fault fault = Fault::none;
  std::int64_t at = 0;     ///< number of the operation, from 1
  std::uint32_t seed = 0;  ///< how much of a write is done, how long a disk is full, what survives
  bool obeys_log_syncs =
      true;  ///< false: a sync of a write-ahead log is swallowed, as with synchronous=NORMAL
  bool obeys_other_syncs = true;  ///< both false: as with synchronous=OFF
};

class FaultyDisk {
 public:
  /// Registers a VFS of a name of its own until this object goes. Close every database first.
  explicit FaultyDisk(Plan plan);
  FaultyDisk(const FaultyDisk&) = delete;
  FaultyDisk& operator=(const FaultyDisk&) = delete;
  ~FaultyDisk();

  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] std::int64_t operations() const { return operations_; }
  [[nodiscard]] bool happened() const { return happened_; }  ///< the fault
  [[nodiscard]] bool dead() const { return dead_; }
  /// After a power cut, with every database closed: makes the files what a disk may hold then. All that was
  /// synced is there. Of later writes either nothing, or a beginning of them with the last one torn, or any
  /// of them (a disk writes in what order it likes), by the plan's seed.
  void settle();

  // For the shim's functions.
  struct Change {
    enum class Kind { write, truncate, remove } kind;
    sqlite3_int64 at = 0;  ///< offset, or new size
    std::string bytes;
  };
  struct File {
    std::optional<std::string> synced;  ///< nothing: no such file
    std::vector<Change> since;
    bool is_log = false;
  };
  enum class Call { open, read, write, truncate, sync, remove };
  /// Counts the call. SQLITE_OK, or the code to fail with. `part`: how many of `bytes` to write all the same.
  int enter(Call call, int bytes, int* part);
  File& file(const std::string& path, bool is_log);
  void synced(File& f);
  void folder_synced();  ///< removals are on the disk

 private:
  [[nodiscard]] int strike(Call call, int bytes, int* part);
  std::optional<std::string> after_power_cut(const File& f);

  Plan plan_;
  std::string name_;
  sqlite3_vfs vfs_{};
  std::mt19937 random_;
  std::int64_t operations_ = 0;
  std::int64_t full_until_ = 0;
  bool happened_ = false, dead_ = false;
  std::map<std::string, File> files_;
};
}  // namespace hb::testing_support
