#include "live_phones.hpp"

#include <sodium.h>

#include <map>

#include "checks/registry.hpp"
#include "choose_profile.hpp"
#include "harness/phone/phone.hpp"
#include "profiles/profiles.hpp"

namespace hb::cli {
namespace {
using Told = std::function<void(const LivePhone&)>;
constexpr net::milliseconds kOpen{5000}, kGlance{1500}, kOwner{60000}, kAgain{2000};

PhoneState state_of(link::UsbAccess a) {
  switch (a) {
    case link::UsbAccess::denied:
      return PhoneState::denied;
    case link::UsbAccess::busy:
      return PhoneState::busy;
    case link::UsbAccess::gone:
      return PhoneState::unplugged;
    case link::UsbAccess::free:
      break;
  }
  return PhoneState::no_answer;
}

/// A key of the moment: only the tail is wanted, the tag stays with the bench's own key.
Bytes passing_key() {
  Bytes key(32);
  randombytes_buf(key.data(), key.size());
  return key;
}

net::awaitable<void> recognise(std::shared_ptr<link::Link> link, Home home, LivePhone& p) {
  const auto phone = phone::Phone::on(link);
  const auto identity = co_await phone->identity(passing_key());
  if (identity) p.tail = identity->tail;
  const auto known = checks::all_checks();
  for (const auto& f : profiles::find_files(profile_folders(home))) {
    const auto l = profiles::load(f, known);
    if (!l.profile) continue;
    const auto fits = co_await phone->is_model(l.profile->device, l.profile->model);
    if (!fits) co_return;
    if (*fits) {
      p.model = l.profile->name.str();
      co_return;
    }
  }
}
}  // namespace

std::string_view name(PhoneState s) noexcept {
  switch (s) {
    case PhoneState::ready:
      return "ready";
    case PhoneState::allow:
      return "allow";
    case PhoneState::denied:
      return "no permission";
    case PhoneState::busy:
      return "busy";
    case PhoneState::unplugged:
      return "unplugged";
    case PhoneState::no_answer:
      break;
  }
  return "no answer";
}

std::string_view advice(PhoneState s) noexcept {
  switch (s) {
    case PhoneState::ready:
      return "ready";
    case PhoneState::allow:
      return "look at the phone: unlock it and tap Allow";
    case PhoneState::denied:
      return "permission denied: the udev rule is missing, see handback setup";
    case PhoneState::busy:
      return "busy: another program holds it (a debug-link server? adb kill-server)";
    case PhoneState::unplugged:
      return "unplugged";
    case PhoneState::no_answer:
      break;
  }
  return "no answer: unplug the cable, plug it in again";
}

net::awaitable<LivePhone> look_at(Home home, link::BenchRsaKey key, link::UsbPlace place,
                                  net::milliseconds patience, Told told) {
  LivePhone p;
  p.place = place;
  p.state = state_of(link::probe_usb(place));
  if (p.state != PhoneState::no_answer) co_return p;
  auto transport = co_await link::connect_usb_at(place, kOpen);
  if (!transport) {
    if (transport.error().code != ErrorCode::timed_out) p.state = state_of(link::probe_usb(place));
    co_return p;
  }
  link::LinkOptions options;
  options.authorise = patience;
  options.on_waiting_for_owner = [&p, told] {
    p.state = PhoneState::allow;
    told(p);
  };
  auto link = co_await link::Link::open(std::move(*transport), std::move(key), options);
  if (!link) {
    if (link.error().code == ErrorCode::link_lost) p.state = state_of(link::probe_usb(place));
    co_return p;
  }
  p.state = PhoneState::ready;
  co_await recognise(*link, home, p);
  if (!(*link)->alive()) p.state = state_of(link::probe_usb(place));
  (*link)->close();
  co_return p;
}

net::awaitable<Result<std::vector<LivePhone>>> phones_now(Home home, link::BenchRsaKey key) {
  const auto watch = link::UsbWatch::start(co_await net::asio::this_coro::executor);
  if (!watch) co_return watch.error();
  std::vector<LivePhone> out;
  const Told nobody = [](const LivePhone&) {};
  for (;;) {
    const auto c = co_await (*watch)->next(net::milliseconds(0));
    if (!c && c.error().code == ErrorCode::timed_out) co_return out;
    if (!c) co_return c.error();
    if (!c->arrived) continue;
    auto p = co_await look_at(home, key, c->place, kGlance, nobody);
    out.push_back(std::move(p));
  }
}

namespace {
/// What is known of the phones that are there; shared by the coroutines that look at them.
struct Desk {
  Desk(Home h, link::BenchRsaKey k, Told t) : home(std::move(h)), key(std::move(k)), told(std::move(t)) {}
  Home home;
  link::BenchRsaKey key;
  Told told;
  struct Seen {
    LivePhone phone;
    bool looking = false, said = false;
  };
  std::map<std::pair<std::string, int>, Seen> there;

  void say(const LivePhone& p) {
    const auto at = there.find({p.place.port, p.place.address});
    if (at == there.end() || p.state == PhoneState::unplugged) return;  // the watch tells of that
    auto& s = at->second;
    const bool same =
        s.said && s.phone.state == p.state && s.phone.model == p.model && s.phone.tail == p.tail;
    s.phone = p;
    s.said = true;
    if (!same) told(p);
  }
};

net::awaitable<void> look(std::shared_ptr<Desk> d, link::UsbPlace place) {
  const Told told = [d](const LivePhone& seen) { d->say(seen); };
  const auto p = co_await look_at(d->home, d->key, place, kOwner, told);
  d->say(p);
  const auto at = d->there.find({place.port, place.address});
  if (at != d->there.end()) at->second.looking = false;
}

/// Everything but a phone that is ready may have changed without a notice.
void look_where_needed(const std::shared_ptr<Desk>& d, const net::asio::any_io_executor& executor) {
  for (auto& [key, s] : d->there) {
    if (s.looking || (s.said && s.phone.state == PhoneState::ready)) continue;
    s.looking = true;
    net::co_spawn(executor, look(d, s.phone.place), net::detached);
  }
}
}  // namespace

net::awaitable<Result<void>> watch_phones(Home home, link::BenchRsaKey key, Told told) {
  const auto executor = co_await net::asio::this_coro::executor;
  const auto watch = link::UsbWatch::start(executor);
  if (!watch) co_return watch.error();
  const auto desk = std::make_shared<Desk>(std::move(home), std::move(key), std::move(told));
  for (;;) {
    const auto c = co_await (*watch)->next(kAgain);
    if (!c && c.error().code != ErrorCode::timed_out) co_return c.error();
    if (c) {
      const std::pair<std::string, int> id{c->place.port, c->place.address};
      if (c->arrived) {
        desk->there[id].phone.place = c->place;
      } else if (const auto at = desk->there.find(id); at != desk->there.end()) {
        auto p = at->second.phone;
        desk->there.erase(at);
        p.state = PhoneState::unplugged;
        desk->told(p);
      }
    }
    look_where_needed(desk, executor);
  }
}
}  // namespace hb::cli
