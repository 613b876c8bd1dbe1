/// One command line under way. Private to this folder.
#pragma once

#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "tools/standin/gossip/gossip.hpp"
#include "tools/standin/shell/shell.hpp"
#include "tools/standin/shell/words.hpp"

namespace hb::standin {
class CommandRun {
 public:
  /// `pty`: stdout is a terminal, so a tool that buffers its output in blocks does not.
  CommandRun(Shell& shell, bool pty, std::shared_ptr<Output> output)
      : shell_(shell), pty_(pty), output_(std::move(output)) {}
  void run(std::string_view command);

 private:
  using Words = std::vector<std::string>;
  /// Runs one step; its exit status. Sets ended_ for exit, and streams_ for a command that goes on printing.
  int step(const Step& s);
  int loop(const Step& s);
  int simple(const Words& w);
  int files(const Words& w);
  int dumpsys(const Words& w);
  int cmd(const Words& w);
  int settings(const Words& w);
  int getevent(const Words& w);
  int am(const Words& w);
  int busy(const Words& w, std::size_t count);
  int unknown(const Words& w);

  [[nodiscard]] std::string absolute(const std::string& path) const;
  /// A file's text; the exit status and a message on stderr if it cannot be had.
  int cat(const std::string& path, std::string& into);
  /// Personal content beside what was asked for, if this phone gossips. On standard error where the answer is
  /// one bare value.
  void gossip_out(gossip::Place p);
  void gossip_err(gossip::Place p);
  void print(std::string_view text) {
    if (out_hidden_) return;
    if (into_pipe_)
      pipe_ += text;
    else
      output_->out(text);
  }
  void complain(std::string_view text) {
    if (!err_hidden_) output_->err(text);
  }
  [[nodiscard]] World& world() const { return shell_.world_; }

  Shell& shell_;
  bool pty_;
  std::shared_ptr<Output> output_;
  std::string folder_ = "/";
  bool out_hidden_ = false, err_hidden_ = false;
  std::string input_, pipe_;  ///< what the step before gave to this one, and this one gives to the next
  bool into_pipe_ = false;
  bool ended_ = false, streams_ = false;
};
}  // namespace hb::standin
