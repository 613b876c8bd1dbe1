#include "harness/run/journal.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <span>
#include <string_view>
#include <utility>

#include "harness/base/gate.hpp"

namespace hb::run {
namespace {
using nlohmann::json;

Error disk(const std::filesystem::path& file, int err) {
  return Error{ErrorCode::io, fmt::format("the journal cannot be written: {}", std::strerror(err)),
               file.string(), "Make room or mend the permissions, then resume; what was written is kept."};
}

Result<void> write_line(int fd, const std::filesystem::path& file, const json& value) {
  const std::string line = value.dump() + "\n";
  const off_t start = ::lseek(fd, 0, SEEK_END);
  for (std::size_t at = 0; at < line.size();) {
    const ssize_t n = ::write(fd, line.data() + at, line.size() - at);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) {
      const int err = n == 0 ? ENOSPC : errno;
      if (::ftruncate(fd, start) != 0) return disk(file, errno);
      return disk(file, err);
    }
    at += static_cast<std::size_t>(n);
  }
  if (::fdatasync(fd) != 0) return disk(file, errno);
  return {};
}

Error damaged(std::string what, std::string where) {
  return Error{ErrorCode::bad_format, std::move(what), std::move(where),
               "This run cannot go on; start a new one. All runs: handback run --list"};
}

/// The bytes of a file that may be anything; a pipe or a device is not waited for.
Result<std::string> whole(const std::filesystem::path& file) {
  const int fd = ::open(file.c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC);
  if (fd < 0 && (errno == ENOENT || errno == ENOTDIR))
    return Error{ErrorCode::not_found, "there is no such journal", file.string(),
                 "All runs: handback run --list"};
  const auto cannot = [&](int err) {
    return Error{ErrorCode::io, fmt::format("the journal cannot be read: {}", std::strerror(err)),
                 file.string(), "Mend the permissions, then resume."};
  };
  if (fd < 0) return cannot(errno);
  struct Closed {
    int fd;
    ~Closed() { ::close(fd); }
  } const closed{fd};
  struct stat st {};
  if (::fstat(fd, &st) != 0) return cannot(errno);
  if (!S_ISREG(st.st_mode)) return damaged("this is not a file", file.string());
  if (static_cast<std::uintmax_t>(st.st_size) > kMostJournal)
    return damaged("the file is too large to be a journal", file.string());
  std::string text(static_cast<std::size_t>(st.st_size), '\0');
  std::size_t at = 0;
  while (at < text.size()) {
    const ssize_t n = ::read(fd, text.data() + at, text.size() - at);
    if (n < 0 && errno == EINTR) continue;
    if (n < 0) return cannot(errno);
    if (n == 0) break;
    at += static_cast<std::size_t>(n);
  }
  text.resize(at);
  return text;
}

/// A value that deep is copied and printed by functions that call themselves: told before it is made.
bool deeper_than(std::string_view line, int most) {
  int depth = 0;
  bool in_text = false;
  for (std::size_t i = 0; i < line.size(); ++i) {
    const char c = line[i];
    if (in_text) {
      if (c == '\\') ++i;
      in_text = c != '"';
    } else if (c == '"') {
      in_text = true;
    } else if (c == '[' || c == '{') {
      if (++depth > most) return true;
    } else if (c == ']' || c == '}') {
      --depth;
    }
  }
  return false;
}

using Fits = bool (*)(const json&);
struct Member {
  const char* name;
  Fits fits;
};

bool is_text(const json& v) {
  if (!v.is_string()) return false;
  const auto& s = v.get_ref<const std::string&>();
  return s.size() <= 400 &&
         std::none_of(s.begin(), s.end(), [](unsigned char c) { return c < 0x20 || c == 0x7f; });
}
template <int Lowest, int Highest>
bool is_whole(const json& v) {
  if (v.is_number_unsigned()) return v.get<std::uint64_t>() <= static_cast<std::uint64_t>(Highest);
  return v.is_number_integer() && v.get<std::int64_t>() >= Lowest && v.get<std::int64_t>() <= Highest;
}
bool is_seconds(const json& v) {  // more than thirty years are none
  return v.is_number() && std::abs(v.get<double>()) < 1e9;
}
bool is_date(const json& v) {
  static constexpr std::string_view form = "0000-00-00T00:00:00Z";
  if (!v.is_string() || v.get_ref<const std::string&>().size() != form.size()) return false;
  const auto& s = v.get_ref<const std::string&>();
  for (std::size_t i = 0; i < form.size(); ++i)
    if (form[i] == '0' ? s[i] < '0' || s[i] > '9' : s[i] != form[i]) return false;
  return true;
}

std::span<const Member> header_members() {
  static constexpr Member all[] = {{"run_id", is_text},        {"kind", is_text},  {"job", is_text},
                                   {"started", is_date},       {"tag", is_text},   {"tail", is_text},
                                   {"model", is_text},         {"clock", is_text}, {"link", is_text},
                                   {"profile_sha256", is_text}};
  return all;
}
std::span<const Member> entry_members() {
  static constexpr Member all[] = {{"check", is_text},
                                   {"try", is_whole<1, 1000000>},
                                   {"connection", is_whole<0, 1000000>},
                                   {"bench_seconds", is_seconds},
                                   {"from_s", is_seconds},
                                   {"not_tested", is_text},
                                   {"safety", is_text},
                                   {"waived", [](const json& v) { return v.is_boolean(); }}};
  return all;
}

Result<void> fits_all(const json& object, std::span<const Member> members, const std::string& where) {
  for (const auto& m : members)
    if (const auto at = object.find(m.name); at != object.end() && !m.fits(*at))
      return damaged(fmt::format("'{}' in the journal is not what a run writes there", m.name), where);
  return {};
}
}  // namespace

Result<void> screen_json(const json& value, const std::string& where) {
  if (value.is_string()) {
    if (const auto t = ShopText::kept(value.get<std::string>(), where); !t) return t.error();
  } else if (value.is_object()) {
    for (const auto& [k, v] : value.items()) {
      if (const auto t = ShopText::kept(k, where); !t) return t.error();
      if (auto r = screen_json(v, where + "/" + k); !r) return r;
    }
  } else if (value.is_array() && !value.empty() && !value.front().is_number()) {
    for (const auto& v : value)
      if (auto r = screen_json(v, where); !r) return r;
  } else if (value.is_array()) {
    for (const auto& v : value)
      if (!v.is_primitive() || v.is_string())
        if (auto r = screen_json(v, where); !r) return r;
  }
  return {};
}

Journal::Journal(Journal&& other) noexcept
    : file_(std::move(other.file_)), fd_(std::exchange(other.fd_, -1)) {}
Journal::~Journal() {
  if (fd_ >= 0) ::close(fd_);
}

Result<Journal> Journal::create(std::filesystem::path file, const json& header) {
  std::error_code ec;
  std::filesystem::create_directories(file.parent_path(), ec);
  const int fd = ::open(file.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_APPEND | O_CLOEXEC, 0600);
  if (fd < 0) return disk(file, errno);
  Journal j(std::move(file), fd);
  if (auto r = write_line(fd, j.file_, json{{"journal", "handback-journal-1"}, {"header", header}}); !r) {
    ::unlink(j.file_.c_str());  // nothing was measured yet
    return r.error();
  }
  return Result<Journal>(std::move(j));
}

Result<Journal> Journal::reopen(std::filesystem::path file) {
  const auto text = whole(file);
  if (!text) return text.error();
  const auto end = text->rfind('\n');
  const int fd = ::open(file.c_str(), O_WRONLY | O_APPEND | O_CLOEXEC);
  if (fd < 0) return disk(file, errno);
  Journal j(std::move(file), fd);
  if (end == std::string::npos || end + 1 != text->size())
    if (::ftruncate(fd, end == std::string::npos ? 0 : static_cast<off_t>(end + 1)) != 0)
      return disk(j.file_, errno);
  return Result<Journal>(std::move(j));
}

Result<JournalContents> Journal::read(const std::filesystem::path& file) {
  const auto text = whole(file);
  if (!text) return text.error();
  JournalContents out;
  out.header = nullptr;
  std::string_view rest = *text;
  int number = 1;
  for (std::size_t end; (end = rest.find('\n')) != std::string_view::npos;
       rest.remove_prefix(end + 1), ++number) {  // without a newline at the end: torn
    const auto line = rest.substr(0, end);
    const auto where = fmt::format("{}:{}", file.string(), number);
    json j = deeper_than(line, kDeepest) ? json() : json::parse(line, nullptr, false);
    if (!j.is_object()) return damaged("this line of the journal is not whole", where);
    if (number > 1) {
      if (auto fits = fits_all(j, entry_members(), where); !fits) return fits.error();
      out.entries.push_back(std::move(j));
      continue;
    }
    const auto kind = j.find("journal");
    const auto header = j.find("header");
    if (kind == j.end() || *kind != "handback-journal-1" || header == j.end() || !header->is_object())
      return damaged("this is not a journal of handback", where);
    if (auto fits = fits_all(*header, header_members(), where); !fits) return fits.error();
    out.header = std::move(*header);
  }
  if (out.header.is_null()) return damaged("the journal is empty", file.string());
  return out;
}

Result<void> Journal::append(const json& entry) {
  if (auto r = screen_json(entry, "entry"); !r) return r;
  return write_line(fd_, file_, entry);
}
}  // namespace hb::run
