/// A stand-in phone without its wire: commands in, bytes out.
#pragma once

#include <gtest/gtest.h>

#include <memory>
#include <string>
#include <vector>

#include "tools/standin/hands/jig.hpp"
#include "tools/standin/shell/shell.hpp"

namespace hb::standin {
struct Printed final : Output {
  std::string text, complaint;
  int code = -1;
  bool closed = false;
  void out(std::string_view s) override { text += s; }
  void err(std::string_view s) override { complaint += s; }
  void exit(int c) override { code = c; }
  bool gone() const override { return closed; }
};

inline Faults faults_of(const std::vector<std::string>& words, std::string_view model) {
  auto f = Faults::parse(words, model);
  if (!f) throw std::logic_error(f.error().message());
  return *f;
}

/// An action from its name, its part and its amount in tables of tests.
inline Result<checks::Action> action_named(std::string_view name, std::string_view part, double amount) {
  nlohmann::json j = {{"action", name}};
  for (const char* key : {"panel", "camera", "key"}) j[key] = part;
  for (const char* key : {"seconds", "cycles", "degrees", "millimetres", "times", "up", "fields"})
    j[key] = amount;
  j["turned_over"] = amount == 2, j["again"] = false, j["last"] = 0;
  return checks::action_from_json(j);
}

struct TestPhone {
  explicit TestPhone(std::string_view model = "petal", std::uint64_t seed = 1,
                     const std::vector<std::string>& faults = {})
      : world(make_unit(*find_model(model), seed, faults_of(faults, model))) {}

  std::shared_ptr<Printed> start(std::string command, bool pty = false) {
    auto p = std::make_shared<Printed>();
    shell.shell(std::move(command), pty, p);
    return p;
  }
  std::string say(std::string command) { return start(std::move(command))->text; }
  void wait(std::int64_t ms) { ASSERT_TRUE(time.wait(ms)); }
  void deed(std::string_view name, std::string_view part = "", double amount = 0) {
    const auto action = action_named(name, part, amount);
    ASSERT_TRUE(action) << action.error().message();
    const auto r = world.hands().begin(*action, world.now_us());
    ASSERT_TRUE(r) << r.error().message();
  }
  void finish() {
    for (int i = 0; i < 3000 && world.hands().busy(); ++i) wait(100);
    ASSERT_FALSE(world.hands().busy());
  }

  net::io_context io;
  World world;
  Timekeeper time{io, world, Pace{}};
  Shell shell{world, time};
};

inline std::string supply_command(std::string_view supply) {
  return "cd /sys/class/power_supply/" + std::string(supply) +
         " 2>/dev/null || exit 3; cat /proc/uptime; for f in online voltage_now current_now current_max; do "
         "echo \"$f=$(cat $f 2>/dev/null)\"; done";
}

inline std::string cell_command(std::string_view supply) {
  return "cd /sys/class/power_supply/" + std::string(supply) +
         " 2>/dev/null || exit 3; cat /proc/uptime; for f in present voltage_now current_now temp "
         "charge_counter charge_full charge_full_design cycle_count capacity status; do "
         "echo \"$f=$(cat $f 2>/dev/null)\"; done";
}
}  // namespace hb::standin
