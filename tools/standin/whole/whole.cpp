#include "tools/standin/whole/whole.hpp"

#include <algorithm>

#include "harness/base/text.hpp"
#include "tools/standin/browser/browser.hpp"
#include "tools/standin/hands/eyes.hpp"
#include "tools/standin/hands/jig.hpp"
#include "tools/standin/held/held.hpp"
#include "tools/standin/shell/shell.hpp"

namespace hb::standin {
namespace {
bool sees_chart(const World& world, const LensUnit& u) {
  const auto& all =
      world.unit().model->cameras;  // whichever of a side is aimed, the others see the chart too
  return std::any_of(all.begin(), all.end(), [&](const CameraSpec& c) {
    return c.part == world.hands().chart_part() && c.front == u.spec.front;
  });
}

// A browser numbers the cameras that answer, so those behind a missing one move up.
Browser::LensOf lens_of(World& world) {
  return [&world](bool front, int index) -> std::optional<Lens> {
    for (const LensUnit& u : world.unit().lenses)
      if (u.spec.front == front && u.present && index-- == 0)
        return u.spec.part == world.hands().covered_part()
                   ? covered_lens(world.unit(), u)
                   : lens_of(world.unit(), u, sees_chart(world, u), world.hands().aims(),
                             world.hands().first_aim());
    return std::nullopt;
  };
}

Onlooker onlooker_of(World& world) {
  Onlooker o;
  o.size_px = [&world] {
    const PanelSpec& s = world.unit().looks[world.lit_panel()].spec;
    return std::pair(s.width_px, s.height_px);
  };
  o.marks = [&world](const std::string& field) {
    std::vector<ScreenMark> out;
    for (const auto& m : mark_field(world.unit(), world.lit_panel(), field))
      out.push_back({static_cast<int>(m.kind), m.x, m.y, m.w, m.h});
    return out;
  };
  return o;
}

Unit unit_of(const ModelSpec& model, const WholeOptions& o, const Faults& faults) {
  Unit u = make_unit(model, o.seed, faults);
  u.gossips = o.gossips;
  return u;
}

class WholePhone final : public Whole {
 public:
  WholePhone(net::io_context& io, const WholeOptions& o, const ModelSpec& model, const Faults& faults,
             Pace pace)
      : world_(unit_of(model, o, faults)),
        time_(io, world_, pace),
        shell_(world_, time_),
        desk_(world_, time_) {
    if (o.browser == "builtin")
      browser_ = Browser::builtin(io, lens_of(world_), o.gossips);
    else if (o.browser != "none")
      browser_ = Browser::chromium(io, o.browser, lens_of(world_));
    if (browser_) {
      const SoundUnit& sound = world_.unit().sound;
      browser_->hear({static_cast<int>(sound.speakers.size()), static_cast<int>(sound.microphones.size()),
                      [&sound](const Playing& p, std::uint64_t take) { return record(sound, p, take); }});
      shell_.on_open_url = [this](std::string url) { browser_->open(std::move(url)); };
      world_.hands().on_allow = [this] { browser_->allow(); };
      browser_->set_onlooker(onlooker_of(world_));
      world_.hands().on_looked = [this] { browser_->looked(); };
    }
    daemon_ = Daemon::listen(io, shell_, o.wire);
    desk_.on_pull = [this] { daemon_->pull(); };
    desk_.on_plug = [this] { daemon_->plug(); };
    jig_ = Jig::listen(io, desk_, o.jig_port);
  }
  WholePhone(const WholePhone&) = delete;
  WholePhone& operator=(const WholePhone&) = delete;

  Daemon& daemon() noexcept override { return *daemon_; }
  std::uint16_t port() const override { return daemon_->port(); }
  std::uint16_t jig_port() const override { return jig_->port(); }
  void close() override {
    if (browser_) browser_->close();
  }

 private:
  World world_;
  Timekeeper time_;
  Shell shell_;
  JigDesk desk_;
  std::unique_ptr<Browser> browser_;
  std::unique_ptr<Daemon> daemon_;
  std::unique_ptr<Jig> jig_;
};
}  // namespace

Result<std::unique_ptr<Whole>> Whole::start(net::io_context& io, const WholeOptions& o) {
  const auto* model = find_model(o.model);
  if (model == nullptr)
    return Error{ErrorCode::invalid_argument, "this model is not known", printable(o.model, 40),
                 "Write petal or plank."};
  const auto faults = Faults::parse(o.faults, o.model);
  if (!faults) return faults.error();
  const auto pace = Pace::parse(o.clock);
  if (!pace) return pace.error();
  std::unique_ptr<Whole> whole = std::make_unique<WholePhone>(io, o, *model, *faults, *pace);
  return whole;
}
}  // namespace hb::standin
