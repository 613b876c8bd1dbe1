#include "harness/run/journal.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <fstream>
#include <sstream>
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
  if (auto r = write_line(fd, j.file_, json{{"journal", "handback-journal-1"}, {"header", header}}); !r)
    return r.error();
  return Result<Journal>(std::move(j));
}

Result<Journal> Journal::reopen(std::filesystem::path file) {
  std::ifstream in(file, std::ios::binary);
  std::ostringstream all;
  if (in) all << in.rdbuf();
  if (!in)
    return Error{ErrorCode::not_found, "there is no such journal", file.string(),
                 "See 'handback run --list'."};
  const std::string text = all.str();
  const auto end = text.rfind('\n');
  const int fd = ::open(file.c_str(), O_WRONLY | O_APPEND | O_CLOEXEC);
  if (fd < 0) return disk(file, errno);
  Journal j(std::move(file), fd);
  if (end == std::string::npos || end + 1 != text.size())
    if (::ftruncate(fd, end == std::string::npos ? 0 : static_cast<off_t>(end + 1)) != 0)
      return disk(j.file_, errno);
  return Result<Journal>(std::move(j));
}

Result<JournalContents> Journal::read(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  if (!in)
    return Error{ErrorCode::not_found, "there is no such journal", file.string(),
                 "See 'handback run --list'."};
  JournalContents out;
  std::string line;
  for (int number = 1; std::getline(in, line); ++number) {
    if (in.eof()) break;  // no newline at the end: torn
    json j = json::parse(line, nullptr, false);
    const auto where = fmt::format("{}:{}", file.string(), number);
    if (!j.is_object())
      return Error{ErrorCode::bad_format, "this line of the journal is not whole", where,
                   "Start the run anew."};
    if (number > 1) {
      out.entries.push_back(std::move(j));
      continue;
    }
    const auto kind = j.find("journal");
    if (kind == j.end() || *kind != "handback-journal-1" || !j.contains("header"))
      return Error{ErrorCode::bad_format, "this is not a journal of handback", where, ""};
    out.header = j["header"];
  }
  if (out.header.is_null())
    return Error{ErrorCode::bad_format, "the journal is empty", file.string(), "Start the run anew."};
  return out;
}

Result<void> Journal::append(const json& entry) {
  if (auto r = screen_json(entry, "entry"); !r) return r;
  return write_line(fd_, file_, entry);
}
}  // namespace hb::run
