#include "home.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sodium.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "keys.hpp"

#define TOML_HEADER_ONLY 0
#include <toml++/toml.h>

namespace hb::cli {
namespace {
Error disk(const fs::path& file, const char* doing) {
  return Error{ErrorCode::io, fmt::format("cannot {}: {}", doing, std::strerror(errno)), file.string(),
               "Make room or mend the permissions, then do it again."};
}
std::string env(const char* n) {
  const char* v = std::getenv(n);
  return v != nullptr ? v : "";
}

/// True when the mode was wider than `most` and could be narrowed. Links and what belongs to others are left.
bool close_to_others(const fs::path& p, unsigned most) {
  struct stat st {};
  if (::lstat(p.c_str(), &st) != 0 || S_ISLNK(st.st_mode) || st.st_uid != ::geteuid()) return false;
  if ((st.st_mode & S_ISVTX) != 0 || (st.st_mode & 077 & ~most) == 0) return false;
  return ::chmod(p.c_str(), st.st_mode & most) == 0;
}

fs::path choose_root(const std::string& option) {
  if (!option.empty()) return option;
  if (const auto h = env("HANDBACK_HOME"); !h.empty()) return h;
  if (const auto x = env("XDG_DATA_HOME"); !x.empty()) return fs::path(x) / "handback";
  const auto h = env("HOME");
  return fs::path(h.empty() ? "." : h) / ".local" / "share" / "handback";
}
}  // namespace

Home::Home(fs::path root, std::shared_ptr<KeyAccess> keys)
    : root_(std::move(root)),
      ledger_((root_ / "ledger.sqlite").string()),
      keys_(keys ? std::move(keys) : std::make_shared<KeyAccess>()) {}

Home Home::choose(const std::string& option, std::shared_ptr<KeyAccess> keys,
                  const std::string& ledger_option) {
  Home home(choose_root(option), std::move(keys));
  if (const auto place = ledger_option.empty() ? env("HANDBACK_LEDGER") : ledger_option; !place.empty())
    home.ledger_ = place;
  return home;
}

Result<void> Home::prepare() const {
  std::error_code ec;
  std::vector<std::string> closed;
  const bool ours = !fs::exists(root_, ec) || fs::is_empty(root_, ec) || has_bench();
  for (const auto& d : {root_, root_ / "keys", trusted(), roots(), certificates(), revocations(), retired(),
                        runs(), sheets(), profiles()}) {
    const bool made = fs::create_directories(d, ec);
    if (ec)
      return Error{ErrorCode::io, fmt::format("cannot make the folder: {}", ec.message()), d.string(),
                   "Choose another with --home."};
    if (d == root_ && !ours) continue;  // somebody's folder that holds more than a bench
    if (close_to_others(d, 0700) && !made) closed.push_back(d.string());
  }
  std::vector<fs::path> files{root_ / "bench.toml"};
  for (const char* end : {"", "-wal", "-shm", "-journal"})
    files.push_back(root_ / (std::string("ledger.sqlite") + end));
  for (fs::directory_iterator it(runs(), ec), end; !ec && it != end; it.increment(ec))
    files.push_back(it->path());
  for (const auto& f : files)
    if (close_to_others(f, 0600)) closed.push_back(f.string());
  if (!closed.empty())
    fmt::print(stderr, "Others on this computer could look into {}{}. No longer: only you can now.\n",
               closed.front(),
               closed.size() > 1 ? fmt::format(" and {} more of the bench's own", closed.size() - 1) : "");
  return {};
}

bool Home::has_bench() const { return fs::exists(root_ / "bench.toml"); }

Result<BenchFacts> Home::bench() const {
  const auto file = root_ / "bench.toml";
  if (!fs::exists(file))
    return Error{ErrorCode::not_found, "this bench has no name yet", file.string(),
                 "Name it once: handback bench init --shop \"...\" --name \"...\" --contact \"...\""};
  try {
    const auto t = toml::parse_file(file.string());
    BenchFacts b;
    for (auto [key, into] :
         {std::pair<const char*, ShopText*>{"shop", &b.shop}, {"name", &b.name}, {"contact", &b.contact}}) {
      const auto given = t[key].value_or(std::string{});
      const std::string where = std::string("bench.toml, key ") + key;
      auto text = into == &b.name ? ShopText::screened(given, where, 120) : ShopText::published(given, where);
      if (!text) return text.error();
      *into = *text;
    }
    return b;
  } catch (const toml::parse_error& e) {
    return Error{ErrorCode::bad_format, "not TOML",
                 fmt::format("{}:{}", file.string(), e.source().begin.line), "Mend the line."};
  }
}

Result<void> Home::set_bench(const BenchFacts& b) const {
  toml::table t{{"shop", b.shop.str()}, {"name", b.name.str()}, {"contact", b.contact.str()}};
  std::ostringstream out;
  out << "# Printed on every sheet.\n" << t << "\n";
  return write_file(root_ / "bench.toml", out.str());
}

Result<Bytes> Home::tag_key() const {
  const auto file = root_ / "keys" / "phone-tag.key";
  if (!fs::exists(file)) {
    Bytes key(32);
    randombytes_buf(key.data(), key.size());
    if (auto w = write_file(file, hex(key) + "\n", 0600); !w) return w.error();
    return key;
  }
  if ((fs::status(file).permissions() & (fs::perms::group_all | fs::perms::others_all)) != fs::perms::none)
    return Error{ErrorCode::refused, "the phone-tag key can be read by others", file.string(),
                 "Run `chmod 600` on it."};
  auto text = read_file(file, 200);
  if (!text) return text.error();
  while (!text->empty() && text->back() == '\n') text->pop_back();
  auto key = from_hex(*text);
  if (!key || key->size() != 32)
    return Error{ErrorCode::bad_format, "the phone-tag key is damaged", file.string(),
                 "Restore it from your backup: with another key, phones seen before get new tags."};
  return key;
}

Result<void> write_file(const fs::path& file, std::string_view content, unsigned mode) {
  const auto temp = file.string() + fmt::format(".{}.part", ::getpid());
  const int fd = ::open(temp.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, mode);
  if (fd < 0) return disk(file, "write the file");
  const auto failed = [&] {
    const Error e = disk(file, "write the file");
    ::close(fd);
    ::unlink(temp.c_str());
    return e;
  };
  for (std::size_t at = 0; at < content.size();) {
    const ssize_t n = ::write(fd, content.data() + at, content.size() - at);
    if (n < 0 && errno == EINTR) continue;
    if (n == 0) errno = ENOSPC;
    if (n <= 0) return failed();
    at += static_cast<std::size_t>(n);
  }
  if (::fchmod(fd, mode) != 0 || ::fsync(fd) != 0 || ::rename(temp.c_str(), file.c_str()) != 0)
    return failed();
  ::close(fd);
  const auto folder = file.parent_path();
  if (const int d = ::open(folder.empty() ? "." : folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC);
      d >= 0) {
    (void)::fsync(d);  // the name too survives a power cut
    ::close(d);
  }
  return {};
}

Result<std::string> read_file(const fs::path& file, std::size_t max_bytes) {
  std::error_code ec;
  if (fs::is_directory(file, ec))
    return Error{ErrorCode::invalid_argument, "this is a folder", file.string(), "Name a file."};
  std::ifstream in(file, std::ios::binary);
  if (!in) return Error{ErrorCode::not_found, "cannot read the file", file.string(), "Check the name."};
  std::string out;
  char chunk[65536];
  while (in.read(chunk, sizeof chunk), in.gcount() > 0) {
    out.append(chunk, static_cast<std::size_t>(in.gcount()));
    if (out.size() > max_bytes)
      return Error{ErrorCode::bad_format, "the file is too large to be one of ours", file.string(), ""};
  }
  return out;
}
}  // namespace hb::cli
