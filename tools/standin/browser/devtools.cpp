#include "tools/standin/browser/devtools.hpp"

#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <list>
#include <optional>

extern char** environ;  // NOLINT: POSIX

namespace hb::standin {
namespace fs = std::filesystem;

TempFolder::TempFolder() {
  std::string pattern = (fs::temp_directory_path() / "standin-browser-XXXXXX").string();
  if (::mkdtemp(pattern.data()) == nullptr)
    throw fs::filesystem_error("no temporary folder", std::error_code(errno, std::generic_category()));
  path_ = pattern;
}
TempFolder::~TempFolder() {
  std::error_code ec;
  fs::remove_all(path_, ec);
}

struct Devtools::Impl : std::enable_shared_from_this<Devtools::Impl> {
  explicit Impl(net::io_context& io) : io_(io), from_(io) {}

  net::io_context& io_;
  net::asio::posix::stream_descriptor from_;
  ::pid_t pid_ = -1;
  TempFolder profile_;
  std::string session_, buffer_;
  int last_id_ = 0;
  bool ended_ = false;
  struct Waiting {
    int id;
    net::asio::steady_timer timer;
    std::optional<nlohmann::json> reply;
  };
  std::list<Waiting*> waiting_;

  void end() {
    if (ended_) return;
    ended_ = true;
    net::error_code ec;
    from_.close(ec);
    if (pid_ > 0) {
      ::kill(-pid_, SIGKILL);
      int status = 0;
      ::waitpid(pid_, &status, 0);
    }
    for (auto* w : waiting_) w->timer.cancel();
  }
  ~Impl() { end(); }

  void take(std::string_view text) {
    auto j = nlohmann::json::parse(text, nullptr, false);
    if (!j.is_object() || !j.contains("id")) return;  // an event
    for (auto* w : waiting_)
      if (j["id"] == w->id) {
        w->reply = std::move(j);
        w->timer.cancel();
        return;
      }
  }
};

namespace {
// A connected pair well above 3 and 4, so that the child's dup2 never meets it. A socket pair instead of two
// pipes: a browser that ended is then an error of send(), not a signal.
bool high_pair(std::array<int, 2>& ends) {
  if (::socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends.data()) != 0) return false;
  for (int& fd : ends) {
    const int high = ::fcntl(fd, F_DUPFD_CLOEXEC, 20);
    ::close(fd);
    fd = high;
  }
  return ends[0] >= 0 && ends[1] >= 0;
}

std::vector<std::string> flags(const std::string& program, const fs::path& profile,
                               const std::vector<std::string>& extra) {
  std::vector<std::string> all{program,
                               "--headless",
                               "--remote-debugging-pipe",
                               "--no-sandbox",
                               "--disable-gpu",
                               "--disable-quic",
                               "--no-first-run",
                               "--no-default-browser-check",
                               "--disable-background-networking",
                               "--disable-component-update",
                               "--disable-default-apps",
                               "--disable-extensions",
                               "--disable-sync",
                               "--disable-breakpad",
                               "--disable-dev-shm-usage",
                               "--no-pings",
                               "--metrics-recording-only",
                               "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE *.localhost",
                               "--user-data-dir=" + profile.string()};
  all.insert(all.end(), extra.begin(), extra.end());
  all.emplace_back("about:blank");
  return all;
}

::pid_t spawn(const std::vector<std::string>& args, const fs::path& home, int debugging) {
  ::posix_spawn_file_actions_t actions;
  ::posix_spawnattr_t attributes;
  ::posix_spawn_file_actions_init(&actions);
  ::posix_spawnattr_init(&attributes);
  for (const int fd : {0, 1, 2}) ::posix_spawn_file_actions_addopen(&actions, fd, "/dev/null", O_RDWR, 0);
  ::posix_spawn_file_actions_adddup2(&actions, debugging, 3);
  ::posix_spawn_file_actions_adddup2(&actions, debugging, 4);
  // Else the browser holds the link's sockets too, and neither it nor the bench notices a pulled cable.
  ::posix_spawn_file_actions_addclosefrom_np(&actions, 5);
  ::posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP);
  ::posix_spawnattr_setpgroup(&attributes, 0);

  std::vector<std::string> environment{"HOME=" + home.string()};
  for (char** e = environ; *e != nullptr; ++e)
    if (std::string_view(*e).substr(0, 5) != "HOME=") environment.emplace_back(*e);
  const auto pointers = [](const std::vector<std::string>& texts) {
    std::vector<char*> p;
    for (const auto& t : texts) p.push_back(const_cast<char*>(t.c_str()));
    p.push_back(nullptr);
    return p;
  };
  auto argv = pointers(args), envp = pointers(environment);
  ::pid_t pid = -1;
  const int failed = ::posix_spawn(&pid, args[0].c_str(), &actions, &attributes, argv.data(), envp.data());
  ::posix_spawn_file_actions_destroy(&actions);
  ::posix_spawnattr_destroy(&attributes);
  return failed == 0 ? pid : -1;
}

std::string first_page(const nlohmann::json& targets) {
  for (const auto& t : targets.at("targetInfos"))
    if (t.value("type", "") == "page") return t.value("targetId", "");
  return {};
}

Error gone(std::string method) {
  return {ErrorCode::link_lost, "the browser ended", std::move(method), "Open the page again."};
}
}  // namespace

Devtools::Devtools(std::shared_ptr<Impl> impl) : impl_(std::move(impl)) {}
Devtools::~Devtools() { impl_->end(); }
void Devtools::kill() { impl_->end(); }
bool Devtools::alive() const { return !impl_->ended_; }

Result<std::unique_ptr<Devtools>> Devtools::launch(net::io_context& io, std::string program,
                                                   std::vector<std::string> extra) {
  auto impl = std::make_shared<Impl>(io);
  std::array<int, 2> pair{-1, -1};
  if (!high_pair(pair)) return Error{ErrorCode::io, "no pipe for the browser", "", "Close other programs."};
  impl->from_.assign(pair[0]);
  impl->pid_ = spawn(flags(program, impl->profile_.path(), extra), impl->profile_.path(), pair[1]);
  ::close(pair[1]);
  if (impl->pid_ <= 0)
    return Error{ErrorCode::not_found, "the browser program cannot be started", "", "Check its path."};
  net::co_spawn(
      io,
      [](std::weak_ptr<Impl> weak) -> net::awaitable<void> {
        std::array<char, 65536> piece;
        for (;;) {
          auto held = weak.lock();
          if (!held || held->ended_) co_return;
          const auto [ec, n] = co_await held->from_.async_read_some(net::asio::buffer(piece), net::tuple);
          if (ec) {
            held->end();
            co_return;
          }
          held->buffer_.append(piece.data(), n);
          std::size_t from = 0;
          for (std::size_t nul; (nul = held->buffer_.find('\0', from)) != std::string::npos; from = nul + 1)
            held->take(std::string_view(held->buffer_).substr(from, nul - from));
          held->buffer_.erase(0, from);
        }
      }(impl),
      net::detached);
  return std::unique_ptr<Devtools>(new Devtools(std::move(impl)));
}

net::awaitable<Result<nlohmann::json>> Devtools::call(std::string method, nlohmann::json params) {
  const auto impl = impl_;
  if (impl->ended_) co_return gone(method);
  Impl::Waiting mine{++impl->last_id_, net::asio::steady_timer(impl->io_, std::chrono::seconds(20)),
                     std::nullopt};
  nlohmann::json request = {{"id", mine.id}, {"method", method}, {"params", std::move(params)}};
  if (!impl->session_.empty()) request["sessionId"] = impl->session_;
  const std::string text = request.dump() + '\0';
  for (std::size_t done = 0; done < text.size();) {
    const auto n = ::send(impl->from_.native_handle(), text.data() + done, text.size() - done, MSG_NOSIGNAL);
    if (n <= 0) co_return gone(method);
    done += static_cast<std::size_t>(n);
  }
  struct Listed {
    std::shared_ptr<Impl> impl;
    Impl::Waiting* mine;
    ~Listed() { impl->waiting_.remove(mine); }
  } listed{impl, &mine};
  impl->waiting_.push_back(&mine);
  static_cast<void>(co_await mine.timer.async_wait(net::tuple));
  if (!mine.reply && impl->ended_) co_return gone(method);
  if (!mine.reply) co_return Error{ErrorCode::timed_out, "the browser does not answer", method, ""};
  if (!mine.reply->contains("result"))
    co_return Error{ErrorCode::bad_format, "the browser refused a DevTools method", method, ""};
  co_return nlohmann::json((*mine.reply)["result"]);
}

net::awaitable<Result<void>> Devtools::attach_to(std::string target) {
  nlohmann::json which;
  which["targetId"] = std::move(target), which["flatten"] = true;
  auto attached = co_await call("Target.attachToTarget", which);
  if (!attached) co_return attached.error();
  impl_->session_ = attached->value("sessionId", "");
  nlohmann::json screen;
  screen["width"] = 360, screen["height"] = 740, screen["deviceScaleFactor"] = 2, screen["mobile"] = true;
  auto sized = co_await call("Emulation.setDeviceMetricsOverride", screen);
  if (!sized) co_return sized.error();
  co_return Result<void>{};
}

net::awaitable<Result<void>> Devtools::attach() {
  for (int tries = 0; tries < 200; ++tries) {
    auto targets = co_await call("Target.getTargets", nlohmann::json::object());
    if (!targets) co_return targets.error();
    const std::string page = first_page(*targets);
    if (!page.empty()) co_return co_await attach_to(page);
    auto waited = co_await net::pause(net::milliseconds(20));
    if (!waited) co_return waited.error();
  }
  co_return Error{ErrorCode::timed_out, "the browser shows no page", "", ""};
}

net::awaitable<Result<nlohmann::json>> Devtools::evaluate(std::string expression) {
  nlohmann::json params;
  params["expression"] = std::move(expression), params["returnByValue"] = true, params["awaitPromise"] = true;
  auto r = co_await call("Runtime.evaluate", params);
  if (!r) co_return r.error();
  if (!r->contains("result") || r->contains("exceptionDetails"))
    co_return Error{ErrorCode::bad_format, "the page's script threw", "Runtime.evaluate", ""};
  co_return nlohmann::json(r->at("result").value("value", nlohmann::json()));
}

net::awaitable<Result<nlohmann::json>> Devtools::touch(std::string type, double x, double y) {
  nlohmann::json params;
  params["type"] = std::move(type);
  params["x"] = x, params["y"] = y;
  params["button"] = "left", params["clickCount"] = 1;
  return call("Input.dispatchMouseEvent", std::move(params));
}

net::awaitable<Result<void>> Devtools::tap(double x, double y) {
  auto down = co_await touch("mousePressed", x, y);
  if (!down) co_return down.error();
  auto up = co_await touch("mouseReleased", x, y);
  if (!up) co_return up.error();
  co_return Result<void>{};
}
}  // namespace hb::standin
