/// One phone over all its connections: dialling, authorising, telling whether it is the right one, and
/// waiting for it after a lost link. Private to harness/run. Threads: the run's strand.
#pragma once

#include <memory>
#include <string>

#include "checks/check.hpp"
#include "harness/page/page.hpp"
#include "harness/phone/phone.hpp"
#include "harness/run/run.hpp"

namespace hb::run {

class Connection {
 public:
  /// Both outlive it.
  Connection(const Setup& setup, View& view) : s_(setup), view_(view) {}
  /// `tag`: of the phone that it must be; empty: any that Setup::accept takes, whose tag then counts.
  void expect(std::string tag, std::string tail) {
    tag_ = std::move(tag);
    tail_ = std::move(tail);
  }

  /// Errors: see run_checklist().
  [[nodiscard]] net::awaitable<Result<void>> open();
  /// Waits until the same phone answers again. Wall time: the phone is in somebody's hands.
  [[nodiscard]] net::awaitable<Result<void>> wait_for_phone();
  /// A radio or a hub may lose a phone without a word: the connection stands, and no answer comes any more.
  /// That is a lost link, not a phone that cannot be tested.
  [[nodiscard]] net::awaitable<void> hang_up_if_silent();
  /// The phone's own clock, so that bench time is right whatever drives it; seconds.
  [[nodiscard]] net::awaitable<double> bench_now();
  /// Leaves the phone as it was found, as far as a link can, and hangs up.
  [[nodiscard]] net::awaitable<void> tidy();

  [[nodiscard]] bool alive() const { return link_ && link_->alive(); }
  [[nodiscard]] phone::Phone& phone() { return *phone_; }
  [[nodiscard]] checks::PagePort* page() { return page_.get(); }
  [[nodiscard]] const phone::Identity& who() const { return who_; }
  [[nodiscard]] Term kind() const { return kind_; }

 private:
  const Setup& s_;
  View& view_;
  std::shared_ptr<link::Link> link_;
  std::unique_ptr<phone::Phone> phone_;
  std::unique_ptr<checks::PagePort> page_;
  phone::Identity who_;
  std::string tag_, tail_;
  std::string page_host_ = page::host_of_one_run();
  Term kind_ = "tcp";
};

}  // namespace hb::run
