#include "connection.hpp"

#include <fmt/format.h>

namespace hb::run {

net::awaitable<Result<void>> Connection::open() {
  view_.connecting();
  auto transport = co_await s_.connect();
  if (!transport) co_return transport.error();
  const Term kind = (*transport)->kind() == "usb" ? Term("usb") : Term("tcp");
  link::LinkOptions options;
  // A picture that waits for its turn waits on the phone: a bench has many phones.
  options.max_payload = 256u << 10;
  options.max_unread_per_stream = 512u << 10;
  options.on_waiting_for_owner = [this] { view_.owner_must_allow(); };
  auto link = co_await link::Link::open(std::move(*transport), s_.key, options);
  if (!link) co_return link.error();
  auto phone = phone::Phone::on(*link);
  auto fits = co_await phone->is_model(s_.profile.device, s_.profile.model);
  if (!fits) co_return fits.error();
  if (!*fits)
    co_return Error{ErrorCode::unsupported,
                    fmt::format("the phone is not the profile's model, {}", s_.profile.name.str()),
                    s_.profile.file,
                    "Choose the right profile (handback profile list), or make one for this model: "
                    "handback profile new FILE."};
  auto who = co_await phone->identity(s_.shop_key);
  if (!who) co_return who.error();
  if (!tag_.empty() && tag_ != who->tag) {
    (*link)->close();
    co_return Error{
        ErrorCode::refused,
        fmt::format("the phone ..{} is connected, and this run began with ..{}", who->tail, tail_), "",
        "Connect the right phone."};
  }
  if (tag_.empty() && s_.accept)
    if (auto r = s_.accept(who->tag, who->tail); !r) {
      (*link)->close();
      co_return r.error();
    }
  page_.reset();
  tag_ = who->tag;
  tail_ = who->tail;
  who_ = *who;
  kind_ = kind;
  phone_ = std::move(phone);
  link_ = std::move(*link);
  page::PageOptions page_options;
  page_options.room = s_.room;
  page_options.host = page_host_;
  if (s_.use_page) page_ = page::make_page(*phone_, page_options);
  view_.connected(who_.tail, kind_);
  co_return Result<void>{};
}

net::awaitable<Result<void>> Connection::wait_for_phone() {
  view_.paused(
      "The phone is gone: the cable was pulled or the link dropped. What was measured is kept. Waiting for "
      "this phone.",
      s_.wait_for_phone);
  page_.reset();
  if (link_) link_->close();
  const auto give_up = std::chrono::steady_clock::now() + s_.wait_for_phone;
  Error last{ErrorCode::link_lost, "the phone did not come back", "", ""};
  while (std::chrono::steady_clock::now() < give_up) {
    if (auto p = co_await net::pause(net::milliseconds(300)); !p) co_return p.error();
    auto r = co_await open();
    if (r) {
      // What the interrupted checks left running would spoil their repetition.
      (void)co_await phone_->stop_load();
      (void)co_await s_.op->enough();
      view_.back();
      co_return Result<void>{};
    }
    last = r.error();
    if (last.code == ErrorCode::cancelled || last.code == ErrorCode::unauthorised) break;
  }
  co_return last;
}

net::awaitable<void> Connection::hang_up_if_silent() {
  const auto t = co_await phone_->uptime_s();
  if (!t && t.error().code == ErrorCode::timed_out) link_->close();
}

net::awaitable<double> Connection::bench_now() {
  auto t = co_await phone_->uptime_s();
  if (t) co_return *t;
  if (t.error().code == ErrorCode::timed_out) link_->close();
  co_return std::chrono::duration<double>(s_.clock->now()).count();
}

net::awaitable<void> Connection::tidy() {
  if (alive()) {
    if (page_) (void)co_await page_->close();
    (void)co_await phone_->stop_load();
  }
  page_.reset();
  if (link_) link_->close();
}

}  // namespace hb::run
