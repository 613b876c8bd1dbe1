#include "phones_process.hpp"

#include <malloc.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <fstream>
#include <memory>
#include <sstream>
#include <stdexcept>
#include <string>

namespace hb::bench {
namespace {
[[noreturn]] void serve(std::size_t count, standin::WholeOptions options, int out) {
  ::prctl(PR_SET_PDEATHSIG, SIGKILL);
  // Memory stays with the process: otherwise page faults for each packet and file set the pace, not a link.
  ::mallopt(M_MMAP_THRESHOLD, 128 << 20);
  ::mallopt(M_TRIM_THRESHOLD, 512 << 20);
  net::io_context io(1);
  std::vector<std::unique_ptr<standin::Whole>> phones;
  std::vector<Ports> ports;
  for (std::size_t i = 0; i < count; ++i, ++options.seed) {
    auto phone = standin::Whole::start(io, options);
    if (!phone) ::_exit(2);
    ports.push_back({(*phone)->port(), (*phone)->jig_port()});
    phones.push_back(std::move(*phone));
  }
  if (::write(out, ports.data(), ports.size() * sizeof(Ports)) < 0) ::_exit(2);
  ::close(out);
  io.run();
  ::_exit(0);
}
}  // namespace

PhonesProcess::PhonesProcess(std::size_t count, const standin::WholeOptions& options) : ports_(count) {
  std::array<int, 2> out{};
  if (::pipe(out.data()) != 0) throw std::runtime_error("no pipe");
  pid_ = ::fork();
  if (pid_ < 0) throw std::runtime_error("no process");
  if (pid_ == 0) {
    ::close(out[0]);
    serve(count, options, out[1]);
  }
  ::close(out[1]);
  auto* at = reinterpret_cast<char*>(ports_.data());
  std::size_t left = count * sizeof(Ports);
  while (left > 0) {
    const auto n = ::read(out[0], at, left);
    if (n < 0 && errno == EINTR) continue;
    if (n <= 0) throw std::runtime_error("the stand-in phones did not start");
    at += n;
    left -= static_cast<std::size_t>(n);
  }
  ::close(out[0]);
}

PhonesProcess::~PhonesProcess() {
  ::kill(pid_, SIGTERM);
  int status = 0;
  while (::waitpid(pid_, &status, 0) < 0 && errno == EINTR) {
  }
}

double PhonesProcess::cpu_s() const {
  std::ifstream in("/proc/" + std::to_string(pid_) + "/stat");
  std::string text;
  std::getline(in, text);
  std::istringstream fields(text.substr(std::min(text.size(), text.rfind(')') + 1)));
  std::string skipped;
  for (int i = 0; i < 11; ++i) fields >> skipped;  // state up to cmajflt
  long long user = 0, system = 0;
  fields >> user >> system;
  return static_cast<double>(user + system) / static_cast<double>(::sysconf(_SC_CLK_TCK));
}

long long memory_kib(const char* what) {
  std::ifstream in("/proc/self/status");
  for (std::string line; std::getline(in, line);)
    if (line.rfind(what, 0) == 0) return std::stoll(line.substr(line.find(':') + 1));
  return 0;
}

void forget_peak() { std::ofstream("/proc/self/clear_refs") << "5"; }
}  // namespace hb::bench
