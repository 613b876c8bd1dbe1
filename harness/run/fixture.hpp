/// An automatic fixture: something that folds, touches and lays down a phone in place of a technician's
/// hands, and may keep the bench's time. One JSON request a line over TCP, one JSON reply a line, in order:
///   {"hello":1}                                    -> {"ok":true,"clock":"wall"|"rate"|"stepped","rate":R}
///   {"begin":{"action":NAME,...}}                  -> {"ok":true} or {"ok":false}
///   {"status":true}                                -> {"ok":true,"busy":BOOL}
///   {"enough":true}                                -> {"ok":true}
///   {"observe":INSPECTION,"part":NAME}             -> {"ok":true,"value":NUMBER} or {"ok":false}
///   {"wait_ms":N}   ("stepped" only)               -> {"ok":true} when N ms of the fixture's time have
///   passed
/// Actions, with their members, and inspections are named in checks/action/action.hpp.
/// Errors: link_lost when the fixture goes away, timed_out when it does not answer, refused for an action
/// that it cannot do, bad_format for a reply that is not of this form (its text is never repeated). Threads:
/// one strand; requests of several coroutines are put in a row.
#pragma once

#include <cstdint>
#include <memory>
#include <string>

#include "checks/operator.hpp"
#include "harness/net/clock.hpp"

namespace hb::run {

class Fixture {
 public:
  virtual ~Fixture() = default;
  [[nodiscard]] static net::awaitable<Result<std::shared_ptr<Fixture>>> connect(std::string host,
                                                                                std::uint16_t port);
  [[nodiscard]] virtual std::shared_ptr<checks::Operator> op() = 0;
  [[nodiscard]] virtual std::shared_ptr<net::Clock> clock() = 0;
};

}  // namespace hb::run
