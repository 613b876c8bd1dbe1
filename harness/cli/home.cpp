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
  for (const auto& d : {root_, root_ / "keys", trusted(), roots(), certificates(), revocations(), retired(),
                        runs(), sheets(), profiles()}) {
    fs::create_directories(d, ec);
    if (ec)
      return Error{ErrorCode::io, fmt::format("cannot make the folder: {}", ec.message()), d.string(),
                   "Choose another with --home."};
  }
  fs::permissions(root_ / "keys", fs::perms::owner_all, ec);
  fs::permissions(retired(), fs::perms::owner_all, ec);
  fs::permissions(runs(), fs::perms::owner_all, ec);
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

fs::path shipped_profiles() {
  std::error_code ec;
  const auto self = fs::read_symlink("/proc/self/exe", ec);
  const auto installed = self.parent_path().parent_path() / "share" / "handback" / "profiles";
  if (!ec && fs::exists(installed)) return installed;
  return fs::path(HB_PROFILE_DIR);
}

Result<void> write_file(const fs::path& file, std::string_view content, unsigned mode) {
  const auto temp = file.string() + fmt::format(".{}.part", ::getpid());
  const int fd = ::open(temp.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, mode);
  if (fd < 0) return disk(file, "write the file");
  for (std::size_t at = 0; at < content.size();) {
    const ssize_t n = ::write(fd, content.data() + at, content.size() - at);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) {
      const Error e = disk(file, "write the file");
      ::close(fd);
      ::unlink(temp.c_str());
      return e;
    }
    at += static_cast<std::size_t>(n);
  }
  const bool synced = ::fsync(fd) == 0;
  ::close(fd);
  if (!synced || ::rename(temp.c_str(), file.c_str()) != 0) {
    const Error e = disk(file, "write the file");
    ::unlink(temp.c_str());
    return e;
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
