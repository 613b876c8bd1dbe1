/// Where a run's words go: standard output and standard error, written by a thread of their own, so that a
/// terminal that nobody reads (Ctrl-S, copy mode, a slow line, a reader that went away) holds up nothing and
/// ends nothing. Pictures of the moment are dropped while more than kBehind waits to be written; all else is
/// kept until it is read, in order, up to kMostWaiting. A place that is closed is written to no more.
/// Blocking: none but drain(). Threads: any. The object ends with drain(); a thread that is stuck in a write
/// even then is left behind with what it holds.
#pragma once

#include <chrono>
#include <memory>
#include <string>

namespace hb::cli {

class Output {
 public:
  static constexpr std::size_t kBehind = 8u << 10, kMostWaiting = 4u << 20;  ///< bytes
  /// Descriptors, which must stay open; `patience`: how long drain() waits while nothing is read.
  explicit Output(int out = 1, int err = 2, std::chrono::milliseconds patience = std::chrono::seconds(30));
  ~Output();
  Output(const Output&) = delete;
  Output& operator=(const Output&) = delete;

  void result(std::string text);  ///< to standard output
  void say(std::string text);     ///< to standard error
  /// To standard error, if it keeps up; false: it was dropped.
  [[nodiscard]] bool picture(std::string text);
  /// Waits until all is written; false when nothing was read for as long as the patience lasts.
  bool drain();

 private:
  struct Shared;
  bool put(int fd, std::string text, std::size_t most);
  std::shared_ptr<Shared> shared_;
  std::chrono::milliseconds patience_;
  int out_, err_;
};
}  // namespace hb::cli
