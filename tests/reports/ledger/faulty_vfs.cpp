#include "tests/reports/ledger/faulty_vfs.hpp"

#include <signal.h>
#include <unistd.h>

#include <algorithm>
#include <fstream>
#include <iterator>
#include <new>
#include <stdexcept>
#include <utility>

namespace hb::testing_support {
namespace {
namespace fs = std::filesystem;
using Call = FaultyDisk::Call;
using Change = FaultyDisk::Change;

/// The default VFS's file lies behind it in the same memory.
struct Shim {
  sqlite3_file base;
  FaultyDisk* disk;
  FaultyDisk::File* file;  ///< null: a temporary file that nobody counts
  bool sync_folder;        ///< at the first sync, as the default VFS does for a new journal or log
};
Shim& shim(sqlite3_file* f) { return *reinterpret_cast<Shim*>(f); }
sqlite3_file* real(sqlite3_file* f) {
  return reinterpret_cast<sqlite3_file*>(reinterpret_cast<Shim*>(f) + 1);
}
sqlite3_vfs* below() { return sqlite3_vfs_find(nullptr); }
FaultyDisk& disk_of(sqlite3_vfs* v) { return *static_cast<FaultyDisk*>(v->pAppData); }

/// Counts a call on a file; unnamed files never fail.
int enter(sqlite3_file* f, Call call, int bytes = 0, int* part = nullptr) {
  return shim(f).file == nullptr ? SQLITE_OK : shim(f).disk->enter(call, bytes, part);
}
bool dead(sqlite3_file* f) { return shim(f).disk->dead(); }

int on_close(sqlite3_file* f) {
  return real(f)->pMethods == nullptr ? SQLITE_OK : real(f)->pMethods->xClose(real(f));
}

int on_read(sqlite3_file* f, void* to, int n, sqlite3_int64 at) {
  if (const int code = enter(f, Call::read); code != SQLITE_OK) return code;
  return real(f)->pMethods->xRead(real(f), to, n, at);
}

int write_below(sqlite3_file* f, const void* from, int n, sqlite3_int64 at) {
  const int code = real(f)->pMethods->xWrite(real(f), from, n, at);
  if (code == SQLITE_OK && shim(f).file != nullptr)
    shim(f).file->since.push_back(
        {Change::Kind::write, at, std::string(static_cast<const char*>(from), static_cast<std::size_t>(n))});
  return code;
}

int on_write(sqlite3_file* f, const void* from, int n, sqlite3_int64 at) {
  int part = 0;
  if (const int code = enter(f, Call::write, n, &part); code != SQLITE_OK) {
    if (part > 0) static_cast<void>(write_below(f, from, part, at));
    if (part < 0) {  // killed while it was writing
      static_cast<void>(write_below(f, from, -part - 1, at));
      ::kill(::getpid(), SIGKILL);
    }
    return code;
  }
  return write_below(f, from, n, at);
}

int on_truncate(sqlite3_file* f, sqlite3_int64 size) {
  if (const int code = enter(f, Call::truncate); code != SQLITE_OK) return code;
  const int code = real(f)->pMethods->xTruncate(real(f), size);
  if (code == SQLITE_OK && shim(f).file != nullptr)
    shim(f).file->since.push_back({Change::Kind::truncate, size, {}});
  return code;
}

/// The real file is not synced: what is durable is decided here, and the tests run faster.
int on_sync(sqlite3_file* f, int) {
  if (const int code = enter(f, Call::sync); code != SQLITE_OK) return code;
  if (shim(f).file == nullptr) return SQLITE_OK;
  shim(f).disk->synced(*shim(f).file);
  if (std::exchange(shim(f).sync_folder, false)) shim(f).disk->folder_synced();
  return SQLITE_OK;
}

int on_size(sqlite3_file* f, sqlite3_int64* size) {
  return dead(f) ? SQLITE_IOERR_FSTAT : real(f)->pMethods->xFileSize(real(f), size);
}
int on_lock(sqlite3_file* f, int level) {
  return dead(f) ? SQLITE_IOERR_LOCK : real(f)->pMethods->xLock(real(f), level);
}
int on_unlock(sqlite3_file* f, int level) { return real(f)->pMethods->xUnlock(real(f), level); }
int on_check_lock(sqlite3_file* f, int* out) { return real(f)->pMethods->xCheckReservedLock(real(f), out); }
int on_control(sqlite3_file* f, int op, void* arg) {
  return real(f)->pMethods->xFileControl(real(f), op, arg);
}
int on_sector(sqlite3_file* f) { return real(f)->pMethods->xSectorSize(real(f)); }
int on_traits(sqlite3_file* f) { return real(f)->pMethods->xDeviceCharacteristics(real(f)); }
int on_shm_map(sqlite3_file* f, int page, int size, int extend, void volatile** out) {
  return dead(f) ? SQLITE_IOERR_SHMMAP : real(f)->pMethods->xShmMap(real(f), page, size, extend, out);
}
int on_shm_lock(sqlite3_file* f, int offset, int n, int flags) {
  if (dead(f) && (flags & SQLITE_SHM_LOCK) != 0) return SQLITE_IOERR_SHMLOCK;
  return real(f)->pMethods->xShmLock(real(f), offset, n, flags);
}
void on_shm_barrier(sqlite3_file* f) { real(f)->pMethods->xShmBarrier(real(f)); }
int on_shm_unmap(sqlite3_file* f, int remove) { return real(f)->pMethods->xShmUnmap(real(f), remove); }

// Version 2: shared memory, but no memory-mapped reads, which would go past the counters.
constexpr sqlite3_io_methods kMethods{
    2,           on_close,       on_read,       on_write,   on_truncate, on_sync,   on_size,
    on_lock,     on_unlock,      on_check_lock, on_control, on_sector,   on_traits, on_shm_map,
    on_shm_lock, on_shm_barrier, on_shm_unmap,  nullptr,    nullptr};

int on_open(sqlite3_vfs* v, const char* path, sqlite3_file* f, int flags, int* out_flags) {
  auto& disk = disk_of(v);
  f->pMethods = nullptr;
  real(f)->pMethods = nullptr;
  FaultyDisk::File* file = nullptr;
  if (path != nullptr) {
    if (const int code = disk.enter(Call::open, 0, nullptr); code != SQLITE_OK) return code;
    file = &disk.file(path, (flags & SQLITE_OPEN_WAL) != 0);
  }
  const int code = below()->xOpen(below(), path, real(f), flags, out_flags);
  if (code != SQLITE_OK) return code;
  shim(f).disk = &disk;
  shim(f).file = file;
  shim(f).sync_folder =
      (flags & SQLITE_OPEN_CREATE) != 0 && (flags & (SQLITE_OPEN_WAL | SQLITE_OPEN_MAIN_JOURNAL)) != 0;
  f->pMethods = &kMethods;
  return SQLITE_OK;
}

int on_delete(sqlite3_vfs* v, const char* path, int sync_folder) {
  auto& disk = disk_of(v);
  if (const int code = disk.enter(Call::remove, 0, nullptr); code != SQLITE_OK) return code;
  const int code = below()->xDelete(below(), path, 0);
  if (code != SQLITE_OK) return code;
  auto& file = disk.file(path, false);
  file.since.push_back({Change::Kind::remove, 0, {}});
  if (sync_folder != 0) disk.synced(file);
  return SQLITE_OK;
}

int on_access(sqlite3_vfs* v, const char* path, int flags, int* out) {
  return disk_of(v).dead() ? SQLITE_IOERR_ACCESS : below()->xAccess(below(), path, flags, out);
}

int code_of(Call call) {
  switch (call) {
    case Call::open:
      return SQLITE_CANTOPEN;
    case Call::read:
      return SQLITE_IOERR_READ;
    case Call::write:
      return SQLITE_IOERR_WRITE;
    case Call::truncate:
      return SQLITE_IOERR_TRUNCATE;
    case Call::sync:
      return SQLITE_IOERR_FSYNC;
    case Call::remove:
      return SQLITE_IOERR_DELETE;
  }
  return SQLITE_IOERR;
}

std::optional<std::string> contents(const std::string& path) {
  if (!fs::exists(path)) return std::nullopt;
  std::ifstream in(path, std::ios::binary);
  return std::string{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

void apply(std::optional<std::string>& to, const Change& c, std::size_t part) {
  if (c.kind == Change::Kind::remove) return to.reset();
  if (!to) to.emplace();
  const auto at = static_cast<std::size_t>(c.at);
  if (c.kind == Change::Kind::truncate) return to->resize(std::min(at, to->size()));
  if (to->size() < at + part) to->resize(at + part);
  std::copy_n(c.bytes.begin(), part, to->begin() + c.at);
}
}  // namespace

FaultyDisk::FaultyDisk(Plan plan) : plan_(plan), random_(plan.seed) {
  name_ = "faulty-" + std::to_string(reinterpret_cast<std::uintptr_t>(this));
  vfs_ = *below();
  vfs_.szOsFile += static_cast<int>(sizeof(Shim));
  vfs_.pNext = nullptr;
  vfs_.zName = name_.c_str();
  vfs_.pAppData = this;
  vfs_.xOpen = on_open;
  vfs_.xDelete = on_delete;
  vfs_.xAccess = on_access;
  // The others are handed the shim's VFS, where the default one looks for its own data.
  vfs_.xFullPathname = [](sqlite3_vfs*, const char* path, int n, char* out) {
    return below()->xFullPathname(below(), path, n, out);
  };
  if (sqlite3_vfs_register(&vfs_, 0) != SQLITE_OK) throw std::runtime_error("the VFS was refused");
}

FaultyDisk::~FaultyDisk() { sqlite3_vfs_unregister(&vfs_); }

FaultyDisk::File& FaultyDisk::file(const std::string& path, bool is_log) {
  const auto [it, fresh] = files_.try_emplace(path);
  if (fresh) it->second.synced = contents(path);
  if (is_log) it->second.is_log = true;
  return it->second;
}

void FaultyDisk::synced(File& f) {
  if (!(f.is_log ? plan_.obeys_log_syncs : plan_.obeys_other_syncs)) return;
  for (const auto& c : f.since) apply(f.synced, c, c.bytes.size());
  f.since.clear();
}

void FaultyDisk::folder_synced() {
  if (!plan_.obeys_other_syncs) return;
  for (auto& [path, f] : files_) {
    const auto last = std::find_if(f.since.rbegin(), f.since.rend(),
                                   [](const Change& c) { return c.kind == Change::Kind::remove; });
    if (last == f.since.rend()) continue;
    f.synced.reset();
    f.since.erase(f.since.begin(), last.base());
  }
}

int FaultyDisk::enter(Call call, int bytes, int* part) {
  if (dead_) return code_of(call);
  ++operations_;
  if (operations_ < full_until_ && call == Call::write) return SQLITE_FULL;
  if (happened_ || plan_.fault == Fault::none || operations_ < plan_.at) return SQLITE_OK;
  return strike(call, bytes, part);
}

int FaultyDisk::strike(Call call, int bytes, int* part) {
  const auto some = [&] {
    return bytes < 1 ? 0 : static_cast<int>(random_() % static_cast<unsigned>(bytes));
  };
  const bool writing = call == Call::write;
  if (!writing && (plan_.fault == Fault::torn_write || plan_.fault == Fault::no_space)) return SQLITE_OK;
  happened_ = true;
  switch (plan_.fault) {
    case Fault::none:
      return SQLITE_OK;
    case Fault::torn_write:
      *part = some();
      dead_ = true;
      return SQLITE_IOERR_WRITE;
    case Fault::no_space:
      *part = some();
      full_until_ = operations_ + static_cast<std::int64_t>(random_() % 25);
      return SQLITE_FULL;
    case Fault::io_error:
      return code_of(call);
    case Fault::power_cut:
      dead_ = true;
      return code_of(call);
    case Fault::kill:
      if (!writing) ::kill(::getpid(), SIGKILL);
      *part = -1 - some();
      return SQLITE_IOERR_WRITE;
  }
  return SQLITE_OK;
}

std::optional<std::string> FaultyDisk::after_power_cut(const File& f) {
  auto out = f.synced;
  const auto way = random_() % 3;
  const auto kept = f.since.empty() ? 0 : random_() % (f.since.size() + 1);
  for (std::size_t i = 0; i < f.since.size(); ++i) {
    const auto& c = f.since[i];
    const bool here = way == 0 ? false : way == 1 ? i < kept : random_() % 2 == 0;
    if (here) apply(out, c, c.bytes.size());
    if (way == 1 && i == kept && c.kind == Change::Kind::write)
      apply(out, c, random_() % (c.bytes.size() + 1));
    // What was written to a new file of that name did not come into the old one.
    if (!here && c.kind == Change::Kind::remove) break;
  }
  return out;
}

void FaultyDisk::settle() {
  for (const auto& [path, f] : files_) {
    const auto image = after_power_cut(f);
    fs::remove(path);
    if (image) std::ofstream(path, std::ios::binary) << *image;
    fs::remove(path + "-shm");  // an index of the log in shared memory
  }
}
}  // namespace hb::testing_support
