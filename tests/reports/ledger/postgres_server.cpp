#include "tests/reports/ledger/postgres_server.hpp"

#include <fcntl.h>
#include <grp.h>
#include <gtest/gtest.h>
#include <libpq-fe.h>
#include <pwd.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <stdexcept>
#include <vector>

namespace hb::testing_support {
namespace {
namespace fs = std::filesystem;

const passwd* unprivileged() { return ::geteuid() == 0 ? ::getpwnam("postgres") : nullptr; }

struct Environment final : testing::Environment {
  static inline std::unique_ptr<PostgresServer> server;
  void SetUp() override {
    const auto programs = PostgresServer::find_programs();
    if (programs.empty()) GTEST_SKIP() << "PostgreSQL is not installed (Debian's package postgresql)";
    server = std::make_unique<PostgresServer>(programs);
  }
  void TearDown() override { server.reset(); }
};
const auto* const kEnvironment = testing::AddGlobalTestEnvironment(new Environment);
}  // namespace

PostgresServer& postgres() { return *Environment::server; }

std::string PostgresServer::find_programs() {
  std::error_code ec;
  std::vector<fs::path> found;
  for (fs::directory_iterator it("/usr/lib/postgresql", ec), end; !ec && it != end; it.increment(ec))
    if (fs::exists(it->path() / "bin" / "initdb")) found.push_back(it->path() / "bin");
  return found.empty() ? "" : std::max_element(found.begin(), found.end())->string();
}

PostgresServer::PostgresServer(std::string programs)
    : folder_(quick_folder(std::uintmax_t{1} << 30)), programs_(std::move(programs)) {
  if (const auto* user = unprivileged(); user != nullptr)
    if (::chown(folder_.path().c_str(), user->pw_uid, user->pw_gid) != 0) throw std::runtime_error("chown");
  const int nowhere = ::open("/dev/null", O_WRONLY | O_CLOEXEC);
  const pid_t made = launch({"initdb", "-D", (folder_ / "data").string(), "-U", "postgres", "--auth=trust",
                             "--encoding=UTF8", "--locale=C", "--no-sync"},
                            nowhere);
  ::close(nowhere);
  int status = 0;
  ::waitpid(made, &status, 0);
  if (status != 0) throw std::runtime_error("initdb failed");
  start();
}

PostgresServer::~PostgresServer() { crash(); }

pid_t PostgresServer::launch(const std::vector<std::string>& words, int errors) const {
  const std::string program = programs_ + "/" + words.front();
  std::vector<char*> argv;
  for (const auto& w : words) argv.push_back(const_cast<char*>(w.c_str()));
  argv.push_back(nullptr);
  const auto* user = unprivileged();
  const pid_t pid = ::fork();
  if (pid != 0) return pid;
  const int nowhere = ::open("/dev/null", O_RDWR);
  ::dup2(nowhere, 0);
  ::dup2(nowhere, 1);
  ::dup2(errors, 2);
  if (user != nullptr && (::initgroups(user->pw_name, user->pw_gid) != 0 || ::setgid(user->pw_gid) != 0 ||
                          ::setuid(user->pw_uid) != 0))
    ::_exit(126);
  ::prctl(PR_SET_PDEATHSIG, SIGQUIT);
  if (::chdir("/") != 0) ::_exit(126);
  ::execv(program.c_str(), argv.data());
  ::_exit(127);
}

void PostgresServer::start() {
  int ends[2];
  if (::pipe2(ends, O_CLOEXEC) != 0) throw std::runtime_error("pipe");
  pid_ = launch({"postgres", "-D", (folder_ / "data").string(), "-c", "listen_addresses=", "-c",
                 "unix_socket_directories=" + folder_.path().string(), "-c", "log_min_messages=log", "-c",
                 "lc_messages=C", "-c", "log_checkpoints=off", "-c", "recovery_init_sync_method=syncfs", "-c",
                 "shared_buffers=16MB"},
                ends[1]);
  ::close(ends[1]);
  log_ = ends[0];
  std::string said;
  for (char c = 0; said.find("ready to accept connections") == std::string::npos; said += c)
    if (::read(log_, &c, 1) != 1) throw std::runtime_error("the server did not start: " + said);
}

void PostgresServer::crash() {
  if (pid_ <= 0) return;
  ::kill(pid_, SIGQUIT);
  ::waitpid(pid_, nullptr, 0);
  ::close(log_);
  pid_ = -1;
}

std::string PostgresServer::place(const std::string& schema) const {
  return "host=" + folder_.path().string() +
         " dbname=postgres user=postgres options='-c search_path=" + schema + "'";
}

std::string PostgresServer::sql(const std::string& schema, const std::string& text) const {
  PGconn* c = PQconnectdb(place(schema).c_str());
  std::string out = PQstatus(c) == CONNECTION_OK ? "" : "no connection";
  if (out.empty()) {
    PQsetNoticeProcessor(
        c, [](void*, const char*) {}, nullptr);
    PGresult* r = PQexec(c, text.c_str());
    if (const char* state = PQresultErrorField(r, PG_DIAG_SQLSTATE); state != nullptr) out = state;
    PQclear(r);
  }
  PQfinish(c);
  return out;
}

std::string PostgresServer::rows(const std::string& schema, const std::string& text) const {
  PGconn* c = PQconnectdb(place(schema).c_str());
  PGresult* r = PQexec(c, text.c_str());
  std::string out = PQresultStatus(r) == PGRES_TUPLES_OK ? "" : PQerrorMessage(c);
  for (int row = 0; row < PQntuples(r); ++row) {
    for (int i = 0; i < PQnfields(r); ++i) (out += i == 0 ? "" : "|") += PQgetvalue(r, row, i);
    out += '\n';
  }
  PQclear(r);
  PQfinish(c);
  return out;
}

std::string PostgresServer::value(const std::string& text) const {
  PGconn* c = PQconnectdb(place("public").c_str());
  PGresult* r = PQexec(c, text.c_str());
  std::string out = PQntuples(r) == 1 ? PQgetvalue(r, 0, 0) : PQerrorMessage(c);
  PQclear(r);
  PQfinish(c);
  return out;
}
}  // namespace hb::testing_support
