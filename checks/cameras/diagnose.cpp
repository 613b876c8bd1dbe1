#include "checks/seen.hpp"
#include "judge.hpp"

namespace hb::checks {
namespace {

/// Raised verdicts of one camera by measure.
struct Raised {
  std::span<const Verdict> verdicts;
  const ShopText& part;
  [[nodiscard]] const Measure* operator()(std::string_view key) const {
    for (const Verdict& v : verdicts)
      if (v.measure.key.view() == key && v.measure.part == part && is_bad(v)) return &v.measure;
    return nullptr;
  }
};

Finding made(Term id, Term says, Term open_again, const ShopText& part,
             std::initializer_list<const Measure*> why) {
  Finding f{id, says, open_again, part, {}};
  for (const Measure* m : why)
    if (m != nullptr) f.evidence.push_back(*m);
  return f;
}

void of_camera(const Raised& raised, bool counted_anew, std::vector<Finding>& out) {
  const ShopText& part = raised.part;
  if (const Measure* absent = raised("cameras.present")) {
    if (counted_anew) {
      out.push_back(made(
          "camera_not_seated", "Either this camera or another one on the same side does not answer.",
          "The connectors of all cameras on this side, this one's among them: reseat them. The phone numbers "
          "only the cameras that answer, so which one is missing cannot be told, and the others of this side "
          "were not measured: run the check again afterwards.",
          part, {absent}));
      return;
    }
    out.push_back(made("camera_not_seated", "A camera does not answer.",
                       "This camera's connector on the main board: reseat it.", part, {absent}));
    return;
  }
  const Measure* glare = raised("cameras.glare_pct");
  const Measure* balance = raised("cameras.corner_balance");
  const Measure* centre = raised("cameras.mtf50_centre_cpp");
  const Measure* corner = raised("cameras.mtf50_worst_corner_cpp");
  if (glare != nullptr)
    out.push_back(
        made("lens_film_left_on", "Stray light covers the picture and veils its blacks.",
             "The protective film on the lens or on the camera window: take it off. Then finger marks, "
             "glue or a scratch on the inside of the window.",
             part, {glare, centre}));
  if (balance != nullptr)
    out.push_back(
        made("module_tilted", "One side of the picture is soft, the other is sharp.",
             "The camera module in its frame: seat it flat, look for a screw, a shield or a cable end "
             "under one side. If the phone was not held square to the chart, aim again first.",
             part, {balance, corner}));
  if (const Measure* light = raised("cameras.light_gain"))
    out.push_back(
        made("camera_light_dark", "The camera's light was switched on and did not shine.",
             "Either the flex of the light is not seated, or its LED is dead: the small flex beside the "
             "camera, reseat it. Or a gasket or a film covers it: look through its window.",
             part, {light}));
  const Measure* focus = raised("cameras.focus_px_per_dpt");
  const Measure* focus_error = raised("cameras.focus_error_dpt");
  const bool stuck = focus != nullptr || focus_error != nullptr;
  if (stuck)
    out.push_back(
        made("focus_stuck", "The camera's focus does not move as far as it should.",
             "Either the flex of the focus motor is not seated: this camera's connector, reseat it. Or "
             "film, glue or a gasket presses on the lens: look under the camera window and its frame. "
             "If it stays, the module itself.",
             part, {focus, focus_error, centre}));
  if (!stuck && glare == nullptr && balance == nullptr && (centre != nullptr || corner != nullptr))
    out.push_back(
        made("module_out_of_focus", "The picture is soft all over.",
             "Clean the window and aim again from the chart's proper distance. If it stays, the module "
             "does not focus: its connector, a magnet or bracket too near, or the module itself.",
             part, {centre, corner}));
  if (const Measure* cast = raised("cameras.white_delta_e00"))
    out.push_back(made("colour_cast", "Grey does not come out grey.",
                       "The bench light first: one kind of lamp only. Then a tinted film on the window, or a "
                       "module of another make.",
                       part, {cast}));
  if (const Measure* uneven = raised("cameras.shading_asymmetry_pct"))
    out.push_back(
        made("uneven_shading", "One corner of the picture is darker than the others.",
             "The bench light first: turn the chart round and look whether the dark corner turns with it. "
             "Then the camera window or cover, which may sit off centre.",
             part, {uneven}));
}
void of_pixels(const Raised& raised, const Cameras::Camera& camera, const Cameras::Capture& capture,
               std::vector<Finding>& out) {
  const Measure* stuck = raised("cameras.stuck_pixels");
  const auto* seen = camera::capture_of(capture, camera);
  if (stuck == nullptr || seen == nullptr) return;
  const auto s = camera::standing(*seen, camera);
  if (s.on_sensor >= s.undecided)
    out.push_back(made("stuck_pixels",
                       "Small spots stay at the same places of the picture while the chart moves in it.",
                       "The camera module: pixels of its sensor are stuck, or grains lie on the sensor. No "
                       "wiping reaches either. Look at a picture of an even wall, and change the module if "
                       "the spots show.",
                       camera.name, {stuck}));
  else
    out.push_back(made("stuck_pixels",
                       "Small spots stay at the same places of the picture: either specks of dust on the "
                       "chart, or stuck pixels of the camera.",
                       "Wipe the chart and run this check again by hand, not from a stand. If the spots stay "
                       "where they are in the picture, the camera module has stuck pixels: change it.",
                       camera.name, {stuck}));
}
}  // namespace

std::vector<Finding> Cameras::diagnose(std::span<const Verdict> verdicts, const Capture& capture,
                                       const Config& config) {
  std::vector<Finding> out;
  for (const Camera& camera : config.cameras) {
    of_camera(Raised{verdicts, camera.name}, camera::counted_anew(capture, config, camera.facing), out);
    of_pixels(Raised{verdicts, camera.name}, camera, capture, out);
  }
  return out;
}
}  // namespace hb::checks
