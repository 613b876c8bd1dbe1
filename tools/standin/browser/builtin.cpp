#include <fmt/format.h>

#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/string_body.hpp>
#include <boost/beast/http/vector_body.hpp>
#include <boost/beast/http/write.hpp>
#include <cmath>
#include <deque>
#include <list>
#include <nlohmann/json.hpp>

#include "harness/base/text.hpp"
#include "sound_duty.hpp"
#include "tools/standin/browser/browser.hpp"
#include "tools/standin/gossip/gossip.hpp"

namespace hb::standin {
namespace {
namespace http = boost::beast::http;
constexpr int kModules = 8;

// One opened page. A kept connection for the poll, another for what is posted, a third while it loads.
struct Tab {
  explicit Tab(net::io_context& context)
      : io(context), bell(context, net::asio::steady_timer::time_point::max()) {}
  net::io_context& io;
  net::asio::steady_timer bell;  // cancelled when something changes
  Browser::LensOf lens_of;
  Browser::Ears ears;
  std::string host;  ///< with the port
  std::uint16_t port = 0;
  std::string folder;  // "/TOKEN/"
  Onlooker onlooker;
  std::deque<nlohmann::json> duties;  // commands not yet begun
  int looks = 0;                      // through the fields that no command has used yet
  bool allowed = false, over = false, gossips = false;
  std::uint64_t number = 0;
  std::shared_ptr<std::uint64_t> frames_taken, sweeps_recorded;
  std::list<net::tcp::socket*> sockets;

  void end() {
    over = true;
    net::error_code ec;
    for (auto* s : sockets) s->close(ec);
    bell.cancel();
  }
};

struct Answer {
  int status = 0;
  std::string body;
};

class Connection {
 public:
  explicit Connection(std::shared_ptr<Tab> tab) : tab_(std::move(tab)), socket_(tab_->io) {
    tab_->sockets.push_back(&socket_);
  }
  ~Connection() { tab_->sockets.remove(&socket_); }
  Connection(const Connection&) = delete;
  Connection& operator=(const Connection&) = delete;

  net::awaitable<Answer> get(std::string name) {
    http::request<http::string_body> r{http::verb::get, tab_->folder + name, 11};
    co_return co_await exchange(std::move(r));
  }
  net::awaitable<Answer> post(std::string name, nlohmann::json body) {
    http::request<http::string_body> r{http::verb::post, tab_->folder + name, 11};
    r.set(http::field::content_type, "application/json");
    if (tab_->gossips) body["label"] = gossip::line(gossip::Place::browser_fields);
    r.body() = body.dump();
    co_return co_await exchange(std::move(r));
  }
  net::awaitable<Answer> post(std::string name, std::vector<std::uint8_t> body) {
    http::request<http::vector_body<std::uint8_t>> r{http::verb::post, tab_->folder + name, 11};
    r.set(http::field::content_type, "application/octet-stream");
    r.body() = std::move(body);
    co_return co_await exchange(std::move(r));
  }

 private:
  template <class Body>
  net::awaitable<Answer> exchange(http::request<Body> r) {
    const std::string& host = tab_->host;
    r.set(http::field::host, host);
    r.set(http::field::user_agent, "standin");
    if (tab_->gossips) {
      auto cookie = gossip::line(gossip::Place::browser_headers);
      cookie.pop_back();
      r.set(http::field::user_agent, "standin (" + gossip::text(gossip::Place::browser_headers, 9) + ")");
      r.set(http::field::cookie, cookie);
    }
    if (r.method() == http::verb::post) r.set(http::field::origin, "http://" + host);
    r.prepare_payload();
    if (tab_->over) co_return Answer{};
    if (!socket_.is_open()) {
      const net::tcp::endpoint there(net::asio::ip::address_v4::loopback(), tab_->port);
      const auto [failed] = co_await socket_.async_connect(there, net::tuple);
      if (failed || tab_->over) co_return Answer{};
    }
    const auto [write_failed, written] = co_await http::async_write(socket_, r, net::tuple);
    if (write_failed || tab_->over) co_return Answer{};
    http::response<http::string_body> reply;
    const auto [read_failed, got] = co_await http::async_read(socket_, buffer_, reply, net::tuple);
    if (read_failed) co_return Answer{};
    net::error_code ec;
    if (!reply.keep_alive()) socket_.close(ec);
    co_return Answer{static_cast<int>(reply.result_int()), std::move(reply.body())};
  }

  std::shared_ptr<Tab> tab_;
  net::tcp::socket socket_;
  boost::beast::flat_buffer buffer_;
};

// What the page names in src="..." and href="...".
std::vector<std::string> resources(std::string_view html) {
  std::vector<std::string> all;
  for (const std::string_view key : {" src=\"", " href=\""})
    for (auto at = html.find(key); at != std::string_view::npos; at = html.find(key, at + 1)) {
      const auto from = at + key.size(), to = html.find('"', from);
      if (to != std::string_view::npos) all.emplace_back(html.substr(from, to - from));
    }
  return all;
}

// A page that the browser had open before, asked for at the wrong place.
std::string gossip_path() {
  std::string path;
  for (const char c : gossip::line(gossip::Place::browser_path))
    if (c == ' ')
      path += "%20";
    else if (c != '\n')
      path += c;
  return path;
}

net::awaitable<bool> load(std::shared_ptr<Tab> tab) {
  Connection main(tab), second(tab);
  const auto page = co_await main.get("");
  if (page.status != 200) co_return false;
  for (const auto& name : resources(page.body)) {
    const auto part = co_await second.get(name);
    if (part.status != 200) co_return false;
  }
  if (tab->gossips) static_cast<void>(co_await second.get(gossip_path()));
  const auto hello = co_await main.post("hello", nlohmann::json::object());
  const auto j = nlohmann::json::parse(hello.body, nullptr, false);
  if (hello.status != 200 || !j.is_object()) co_return false;
  tab->number = j.value("tab", std::uint64_t{0});
  co_return true;
}

net::awaitable<void> change(std::shared_ptr<Tab> tab) {
  static_cast<void>(co_await tab->bell.async_wait(net::tuple));
}
net::awaitable<void> until_allowed(std::shared_ptr<Tab> tab) {
  while (!tab->allowed && !tab->over) co_await change(tab);
}

int count(const Tab& tab, bool front) {
  int n = 0;
  for (int i = 0; i < kModules; ++i) n += tab.lens_of(front, i) ? 1 : 0;
  return n;
}

// The camera as it is driven for picture `i`, and what the page says of that; nullopt: it cannot be.
std::optional<std::string> drive(Lens& lens, const nlohmann::json& command, int i) {
  const int steps = command.value("focus", 0), lit = command.value("lit", 0);
  if (lit > 0) {
    if (!lens.lamp.listed) return std::nullopt;
    const int first = (command.value("count", 1) - lit) / 2;
    lens.lamp.on = i >= first && i < first + lit;
    lens.width = std::clamp(command.value("width", 0), 16, lens.width);
    lens.height = std::clamp(command.value("height", 0), 16, lens.height);
  }
  if (steps == 0) return std::string();
  if (!lens.focus.moves() || steps < 2) return std::nullopt;
  const int here = i / (command.value("count", 1) / steps);
  const double dpt = lens.focus.far_dpt + (lens.focus.near_dpt - lens.focus.far_dpt) * here / (steps - 1);
  lens.focus.set_dpt = dpt;
  return fmt::format("&d={:.9g}", 1 / dpt);
}

// Empty when every frame went over, else the name of what went wrong.
net::awaitable<std::string> send_frames(std::shared_ptr<Tab> tab, std::shared_ptr<Connection> to,
                                        nlohmann::json command, Lens lens) {
  const int wanted = command.value("count", 1);
  for (int i = 0; i < wanted; ++i) {
    const auto driven = drive(lens, command, i);
    if (!driven) co_return "NotOffered";
    const auto n = (*tab->frames_taken)++;
    Picture p = render(lens, n);
    const std::string target =
        fmt::format("frame?tab={}&seq={}&i={}&w={}&h={}&t={:.3f}{}", tab->number, command.value("seq", 0), i,
                    p.width, p.height, static_cast<double>(n) * 1000 / 30, *driven);
    const auto sent = co_await to->post(target, std::move(p.rgb));
    if (sent.status != 204) co_return "AbortError";
  }
  co_return "";
}

// Says that the microphone is allowed, does one command of sound, and says how that went.
net::awaitable<nlohmann::json> obey_sound(std::shared_ptr<Tab> tab, std::shared_ptr<Connection> to,
                                          nlohmann::json command) {
  nlohmann::json granted = {{"tab", tab->number}, {"granted", true}, {"of", "microphone"}};
  static_cast<void>(co_await to->post("answer", granted));
  nlohmann::json said = {{"ok", true}};
  if (command.value("do", "") == "sound_places") {
    said["microphones"] = tab->ears.microphones, said["outputs"] = tab->ears.outputs;
    co_return said;
  }
  const Playing playing = playing_of(command);
  std::vector<std::uint8_t> bytes;
  if (tab->ears.record) bytes = bytes_of(tab->ears.record(playing, (*tab->sweeps_recorded)++));
  if (bytes.empty()) {
    said["ok"] = false, said["why"] = "NotFoundError";
    co_return said;
  }
  const std::string target =
      fmt::format("recording?tab={}&seq={}&rate={}", tab->number, command.value("seq", 0), playing.rate_hz);
  const auto sent = co_await to->post(target, std::move(bytes));
  if (sent.status != 204) said["ok"] = false, said["why"] = "AbortError";
  co_return said;
}

nlohmann::json marks_body(const std::vector<ScreenMark>& marks) {
  nlohmann::json all = nlohmann::json::array();
  for (const auto& m : marks) {
    auto one = nlohmann::json::array();
    one.push_back(m.kind);
    for (const double v : {m.x, m.y, m.w, m.h}) one.push_back(std::round(1e4 * v) / 1e4);
    all.push_back(std::move(one));
  }
  nlohmann::json body = nlohmann::json::object();
  body["marks"] = std::move(all);
  return body;
}

net::awaitable<void> show_fields(std::shared_ptr<Tab> tab, std::shared_ptr<Connection> to,
                                 nlohmann::json command) {
  // A later command means that the bench no longer waits for this one.
  while (tab->looks == 0 && tab->duties.empty() && !tab->over) co_await change(tab);
  if (tab->over || tab->looks == 0) co_return;
  --tab->looks;
  nlohmann::json reply = {{"tab", tab->number}, {"seq", command.value("seq", 0)}, {"ok", false}};
  reply["why"] = "Left";
  if (tab->onlooker.marks) {
    const std::vector<std::string> names = command.at("fields").get<std::vector<std::string>>();
    for (std::size_t i = 0; i < names.size(); ++i) {
      const std::string target =
          fmt::format("marks?tab={}&seq={}&i={}", tab->number, command.value("seq", 0), i);
      const auto sent = co_await to->post(target, marks_body(tab->onlooker.marks(names[i])));
      if (sent.status != 204) co_return;
    }
    const auto [width, height] = tab->onlooker.size_px();
    reply.erase("why");
    reply["ok"] = true, reply["width"] = width, reply["height"] = height;
  }
  static_cast<void>(co_await to->post("answer", reply));
}

net::awaitable<void> obey(std::shared_ptr<Tab> tab, std::shared_ptr<Connection> to, nlohmann::json command) {
  if (command.value("do", "") == "ask") {  // "Start" is one for both here
    nlohmann::json shown = {{"tab", tab->number}, {"seq", command.value("seq", 0)}, {"ok", true}};
    static_cast<void>(co_await to->post("answer", shown));
    co_return;
  }
  if (command.value("do", "") == "fields") {
    co_await show_fields(tab, to, command);
    co_return;
  }
  co_await until_allowed(tab);
  if (tab->over) co_return;
  const bool front = command.value("facing", "back") == "front";
  nlohmann::json reply = {{"tab", tab->number}, {"seq", command.value("seq", 0)}, {"ok", true}};
  if (of_sound(command)) {
    nlohmann::json said = co_await obey_sound(tab, to, command);
    reply.update(said);
  } else if (command.value("do", "") == "count") {
    reply["count"] = count(*tab, front);
  } else {
    const auto lens = tab->lens_of(front, command.value("index", 0));
    std::string wrong = "NotFoundError";
    if (lens && lens->present) wrong = co_await send_frames(tab, to, command, *lens);
    if (!wrong.empty()) reply["ok"] = false, reply["why"] = wrong;
  }
  static_cast<void>(co_await to->post("answer", reply));
}

// Says once that the person tapped Start and Allow.
net::awaitable<void> say_granted(std::shared_ptr<Tab> tab) {
  co_await until_allowed(tab);
  if (tab->over) co_return;
  Connection own(tab);
  nlohmann::json granted = {{"tab", tab->number}, {"granted", true}};
  static_cast<void>(co_await own.post("answer", granted));
}

net::awaitable<void> work(std::shared_ptr<Tab> tab) {
  const auto to = std::make_shared<Connection>(tab);
  while (!tab->over) {
    if (tab->duties.empty()) {
      co_await change(tab);
      continue;
    }
    nlohmann::json command = std::move(tab->duties.front());
    tab->duties.pop_front();
    co_await obey(tab, to, std::move(command));
  }
}

// Asks for commands, also while one is being worked on: a page that falls silent counts as closed.
net::awaitable<void> live(std::shared_ptr<Tab> tab) {
  const bool loaded = co_await load(tab);
  if (loaded && !tab->over) {
    net::co_spawn(tab->io, say_granted(tab), net::detached);
    net::co_spawn(tab->io, work(tab), net::detached);
    Connection poll(tab);
    std::uint64_t seen = 0;
    while (!tab->over) {
      const auto next = co_await poll.get(fmt::format("next?tab={}&seen={}", tab->number, seen));
      if (next.status == 204) continue;
      const auto command = nlohmann::json::parse(next.body, nullptr, false);
      if (next.status != 200 || !command.is_object() || command.value("do", "") == "stop") break;
      seen = command.value("seq", std::uint64_t{0});
      tab->duties.push_back(command);
      tab->bell.cancel();
    }
  }
  tab->end();
}

class Builtin final : public Browser {
 public:
  Builtin(net::io_context& io, LensOf lens_of, bool gossips)
      : io_(io), lens_of_(std::move(lens_of)), gossips_(gossips) {}
  ~Builtin() override { close(); }
  Builtin(const Builtin&) = delete;
  Builtin& operator=(const Builtin&) = delete;

  void hear(Ears ears) override { ears_ = std::move(ears); }
  void open(std::string url) override {
    close();
    constexpr std::string_view scheme = "http://", below = ".localhost";
    const auto slash = url.find('/', scheme.size());
    if (!std::string_view(url).starts_with(scheme) || slash == std::string::npos) return;
    const auto host = std::string_view(url).substr(scheme.size(), slash - scheme.size());
    const auto colon = host.rfind(':');
    if (colon == std::string_view::npos || !host.substr(0, colon).ends_with(below)) return;
    const auto port = to_int(host.substr(colon + 1));
    if (!port || *port < 1 || *port > 65535) return;
    tab_ = std::make_shared<Tab>(io_);
    tab_->gossips = gossips_;
    tab_->onlooker = onlooker_;
    tab_->lens_of = lens_of_, tab_->frames_taken = frames_taken_;
    tab_->ears = ears_, tab_->sweeps_recorded = sweeps_recorded_;
    tab_->host = host, tab_->port = static_cast<std::uint16_t>(*port), tab_->folder = url.substr(slash);
    net::co_spawn(io_, live(tab_), net::detached);
  }
  void allow() override {
    if (!tab_) return;
    tab_->allowed = true;
    tab_->bell.cancel();
  }
  void set_onlooker(Onlooker onlooker) override { onlooker_ = std::move(onlooker); }
  void looked() override {
    if (!tab_) return;
    ++tab_->looks;
    tab_->bell.cancel();
  }
  void close() override {
    if (tab_) tab_->end();
    tab_.reset();
  }
  [[nodiscard]] bool is_open() const override { return tab_ && !tab_->over; }

 private:
  net::io_context& io_;
  LensOf lens_of_;
  Ears ears_;
  Onlooker onlooker_;
  bool gossips_;
  std::shared_ptr<Tab> tab_;
  std::shared_ptr<std::uint64_t> sweeps_recorded_ = std::make_shared<std::uint64_t>(0);
  std::shared_ptr<std::uint64_t> frames_taken_ = std::make_shared<std::uint64_t>(0);
};
}  // namespace

std::unique_ptr<Browser> Browser::builtin(net::io_context& io, LensOf lens_of, bool gossips) {
  return std::make_unique<Builtin>(io, std::move(lens_of), gossips);
}
}  // namespace hb::standin
