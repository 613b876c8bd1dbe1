#include "resuming.hpp"

#include <cxxabi.h>
#include <fmt/format.h>

#include <cstdlib>
#include <memory>
#include <new>
#include <system_error>
#include <typeinfo>

#include "device.hpp"

namespace hb::cli {

std::string shell_word(const std::string& s) {
  constexpr std::string_view plain =
      "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-+=./:@%,";
  if (!s.empty() && s.find_first_not_of(plain) == std::string::npos) return s;
  std::string out = "'";
  for (const char c : s) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

namespace {
std::string absolute(const std::string& path) {
  std::error_code ec;
  const auto p = fs::absolute(path, ec);
  return ec ? path : p.lexically_normal().string();
}

/// The place of a ledger without its password.
std::string shown(const std::string& place) {
  const auto scheme = place.find("://");
  if (scheme == std::string::npos) {
    const auto at = place.find("password=");
    if (at == std::string::npos) return place.find('=') == std::string::npos ? absolute(place) : place;
    auto end = at + 9;
    if (end < place.size() && place[end] == '\'')
      end = std::min(place.find('\'', end + 1), place.size() - 1) + 1;
    else
      end = std::min(place.find(' ', end), place.size());
    return place.substr(0, at) + place.substr(end);
  }
  const auto host_end = std::min(place.find_first_of("/?", scheme + 3), place.size());
  const auto at = place.rfind('@', host_end);
  const auto colon = place.find(':', scheme + 3);
  if (at == std::string::npos || at < scheme || colon >= at) return place;
  return place.substr(0, colon) + place.substr(at);
}
}  // namespace

std::string command_to_resume(const App& app, const Home& home, const RunArgs& args,
                              const std::string& run_id) {
  if (!args.again.empty()) return args.again;
  std::string out = shell_word(app.self);
  const auto add = [&](const char* option, const std::string& value) {
    out += fmt::format(" {} {}", option, shell_word(value));
  };
  add("--home", absolute(home.root().string()));
  if (!app.ledger_option.empty()) add("--ledger", shown(app.ledger_option));
  if (!app.keys->key_file.empty()) add("--key", absolute(app.keys->key_file));
  out += " run";
  add("--resume", run_id);
  if (!args.device.empty()) add("--device", shown_device(args.device));
  if (!args.fixture.empty()) add("--fixture", args.fixture);
  if (!args.profile.empty()) add("--profile", absolute(args.profile));
  if (!args.use_page) out += " --no-page";
  if (!args.overlap) out += " --one-at-a-time";
  const RunArgs usual;
  if (args.form.paper != usual.form.paper) add("--paper", args.form.paper);
  if (args.form.language != usual.form.language) add("--language", args.form.language);
  if (args.cure_hours) add("--cure-hours", fmt::format("{}", *args.cure_hours));
  if (args.wait_for_phone_s != usual.wait_for_phone_s) add("--wait", std::to_string(args.wait_for_phone_s));
  return out;
}

Error with_resume(Error e, const std::string& command) {
  if (command.empty()) return e;
  switch (e.code) {
    case ErrorCode::invalid_argument:
    case ErrorCode::bad_format:
    case ErrorCode::unsupported:
    case ErrorCode::privacy:
      return e;
    default:
      e.next += "\nWhat was measured is kept. Go on with:\n  " + command;
      return e;
  }
}

Error unforeseen(const std::exception& e) {
  if (dynamic_cast<const std::bad_alloc*>(&e) != nullptr)
    return Error{ErrorCode::io, "memory ran out", "", "Close other programs."};
  if (const auto* s = dynamic_cast<const std::system_error*>(&e))
    return Error{ErrorCode::io, "the system refused: " + s->code().message(), "",
                 "See that the disk has room and that not too much is open."};
  const std::unique_ptr<char, void (*)(void*)> kind(
      abi::__cxa_demangle(typeid(e).name(), nullptr, nullptr, nullptr), std::free);
  return Error{ErrorCode::internal,
               fmt::format("a defect of the program ({})", kind ? kind.get() : typeid(e).name()), "",
               "Please report it with the command that you gave."};
}
}  // namespace hb::cli
