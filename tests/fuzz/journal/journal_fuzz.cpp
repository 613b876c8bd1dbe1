// A journal file with any content: it is read or refused; a readable one can be gone on with, and what a torn
// last line held is dropped once.
#include <sys/mman.h>
#include <unistd.h>

#include <cstdlib>
#include <string>

#include "harness/run/journal.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using hb::run::Journal;
  static const int fd = ::memfd_create("journal", MFD_CLOEXEC);
  static const std::string file = "/proc/self/fd/" + std::to_string(fd);
  if (::ftruncate(fd, 0) != 0 || ::pwrite(fd, data, size, 0) != static_cast<ssize_t>(size)) std::abort();
  const auto before = Journal::read(file);
  auto journal = Journal::reopen(file);
  if (!journal) std::abort();
  if (!before) return 0;
  if (!journal->append(nlohmann::json::object({{"try", 1}}))) std::abort();
  const auto after = Journal::read(file);
  if (!after || after->entries.size() != before->entries.size() + 1 || after->header != before->header)
    std::abort();
  for (const auto& e : before->entries) static_cast<void>(hb::run::screen_json(e, "entry"));
  return 0;
}
