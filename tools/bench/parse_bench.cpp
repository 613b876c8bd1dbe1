// Speed of the parsers of phone text. Goal: a million event lines a second on one core, so that a hundred
// phones swept at 240 frames a second (about 5 lines a frame) cost an eighth of a core.
// Not part of the tests; run it in the release build. The last lines tell the goal; exit 1: missed.
#include <benchmark/benchmark.h>
#include <fmt/format.h>
#include <time.h>

#include <algorithm>
#include <string>

#include "harness/phone/phone.hpp"

namespace {
using namespace hb::phone;

/// One moving finger, as the tool prints it: x, y and the frame's end.
std::string sweep(int frames, bool labels) {
  std::string s;
  for (int i = 0; i < frames; ++i) {
    const auto time = fmt::format("[{:8d}.{:06d}] ", 5000 + i / 240, i % 240 * 4166);
    const int x = i % 1080, y = i % 2640;
    if (labels) {
      s += fmt::format("{}{:<12} {:<20} {:08x}            \r\n", time, "EV_ABS", "ABS_MT_POSITION_X", x);
      s += fmt::format("{}{:<12} {:<20} {:08x}            \r\n", time, "EV_ABS", "ABS_MT_POSITION_Y", y);
      s += fmt::format("{}{:<12} {:<20} {:08x}            \r\n", time, "EV_SYN", "SYN_REPORT", 0);
    } else {
      s += fmt::format("{}0003 0035 {:08x}\n{}0003 0036 {:08x}\n{}0000 0000 00000000\n", time, x, time, y,
                       time);
    }
  }
  return s;
}

void event_lines(benchmark::State& state, bool labels) {
  constexpr int frames = 2000;
  constexpr std::size_t piece = 1448;  // text comes in packets, not in lines
  const auto text = sweep(frames, labels);
  std::vector<InputEvent> events;
  InputEventParser parser;
  for (auto _ : state) {
    events.clear();
    for (std::size_t at = 0; at < text.size(); at += piece)
      parser.feed(std::string_view(text).substr(at, piece), events);
    benchmark::DoNotOptimize(events.data());
  }
  if (events.size() != 3u * frames || parser.bad_lines() != 0) state.SkipWithError("lines were lost");
  state.SetItemsProcessed(state.iterations() * 3 * frames);
  state.SetBytesProcessed(state.iterations() * static_cast<std::int64_t>(text.size()));
}
BENCHMARK_CAPTURE(event_lines, labels, true);
BENCHMARK_CAPTURE(event_lines, hex, false);

/// A dump of 40 sensors with 50 events each, the hinge last.
std::string sensor_dump() {
  std::string list = "Sensor List:\n", recent = "Recent Sensor events:\n";
  for (int s = 0; s < 40; ++s) {
    const auto name = fmt::format("Sensor {}", s);
    list +=
        fmt::format("{:#010x}) {:<25} | {:<15} | ver: 1 | type: {:>20}({}) | perm: n/a | flags: 0x00000002\n",
                    s + 1, name, "Maker", "a.b", s == 39 ? 36 : 70000 + s);
    recent += name + ": last 50 events\n";
    for (int i = 0; i < 50; ++i)
      recent +=
          fmt::format("\t{:2d} (ts={:.9f}, wall=00:00:00.000) {:.2f}, \n", i + 1, 100 - i * 0.02, i * 1.5);
  }
  return list + "Fusion States:\n" + recent + "Active sensors:\n";
}
void sensor_events(benchmark::State& state) {
  const auto text = sensor_dump();
  for (auto _ : state) {
    auto r = parse_sensor_events(text, 36);
    if (!r || r->events.size() != 50) state.SkipWithError("events were lost");
    benchmark::DoNotOptimize(r);
  }
  state.SetBytesProcessed(state.iterations() * static_cast<std::int64_t>(text.size()));
}
BENCHMARK(sensor_events);

void battery(benchmark::State& state) {
  const std::string text =
      "5123.45 20110.02\nCurrent Battery Service state:\n  AC powered: false\n  USB powered: true\n"
      "  Wireless powered: false\n  Max charging current: 500000\n  Max charging voltage: 5000000\n"
      "  Charge counter: 2391000\n  status: 2\n  health: 2\n  present: true\n  level: 64\n  scale: 100\n"
      "  voltage: 3987\n  temperature: 284\n  technology: Li-ion\n";
  for (auto _ : state) benchmark::DoNotOptimize(parse_battery(text));
  state.SetBytesProcessed(state.iterations() * static_cast<std::int64_t>(text.size()));
}
BENCHMARK(battery);
constexpr double kGoal_lines_per_s = 1e6;

/// Lines a second of this thread's own processor time, the best of seven turns over some 0.4 million lines.
double lines_per_s(bool labels) {
  const auto now = [] {
    timespec t{};
    ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return static_cast<double>(t.tv_sec) + static_cast<double>(t.tv_nsec) * 1e-9;
  };
  constexpr int frames = 2000, turns = 70;
  constexpr std::size_t piece = 1448;
  const auto text = sweep(frames, labels);
  double best = 0;
  for (int pass = 0; pass < 7; ++pass) {
    std::vector<InputEvent> events;
    InputEventParser parser;
    const double start = now();
    for (int i = 0; i < turns; ++i) {
      events.clear();
      for (std::size_t at = 0; at < text.size(); at += piece)
        parser.feed(std::string_view(text).substr(at, piece), events);
    }
    const double took = now() - start;
    if (events.size() == 3u * frames && parser.bad_lines() == 0 && took > 0)
      best = std::max(best, 3.0 * frames * turns / took);
  }
  return best;
}
}  // namespace

int main(int argc, char** argv) {
  benchmark::Initialize(&argc, argv);
  if (benchmark::ReportUnrecognizedArguments(argc, argv)) return 2;
  benchmark::RunSpecifiedBenchmarks();
  bool met = true;
  for (const bool labels : {true, false}) {
    const double rate = lines_per_s(labels);
    const bool good = rate >= kGoal_lines_per_s;
    fmt::print("event lines, {}: {:.1f} million a second a core, goal {:.0f} million: {}\n",
               labels ? "labels" : "hex", rate / 1e6, kGoal_lines_per_s / 1e6, good ? "met" : "missed");
    met = met && good;
  }
  return met ? 0 : 1;
}
