// What a page or an operator does that can less than the contract allows.
#include "checks/page_port.hpp"

#include "checks/operator.hpp"
#include "harness/net/asio.hpp"

namespace hb::checks {
Term name(Field f) noexcept {
  switch (f) {
    case Field::white:
      return "white";
    case Field::black:
      return "black";
    case Field::red:
      return "red";
    case Field::green:
      return "green";
    case Field::blue:
      return "blue";
    case Field::ramp:
      return "ramp";
    case Field::grey:
      return "grey";
    case Field::crease:
      return "crease";
  }
  return "white";
}

net::awaitable<Result<FieldMarks>> PagePort::fields(FieldShow) {
  co_return Error{ErrorCode::unsupported, "this page shows no full-screen fields", "phone page", ""};
}

namespace {
Error no_drive() {
  return {ErrorCode::unsupported, "this page sets neither a camera's focus nor its light", "phone page", ""};
}
}  // namespace
net::awaitable<Result<void>> PagePort::focus_frames(CameraAsk, int, int, FrameSink) { co_return no_drive(); }
net::awaitable<Result<void>> PagePort::light_frames(CameraAsk, int, int, FrameSink) { co_return no_drive(); }

net::awaitable<Result<double>> Operator::observe(Question) {
  co_return Error{ErrorCode::unsupported, "nobody can be asked what the phone looks like", "",
                  "Run it in a terminal, or give a fixture that answers."};
}

namespace {
Error no_sound() {
  return {ErrorCode::unsupported, "this page cannot play and record", "phone page",
          "Use a browser that can, or listen to it by ear."};
}
}  // namespace
net::awaitable<Result<void>> PagePort::open_for_sound() { co_return no_sound(); }
net::awaitable<Result<SoundPlaces>> PagePort::sound_places() { co_return no_sound(); }
net::awaitable<Result<void>> PagePort::sweep(SweepAsk, RecordingSink) { co_return no_sound(); }
}  // namespace hb::checks
