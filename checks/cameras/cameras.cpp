#include <nlohmann/json.hpp>

#include "checks/cameras/cameras.hpp"

namespace hb::checks {

CheckInfo Cameras::needs() {
  CheckInfo i;
  i.id = "cameras";
  i.title = "Cameras";
  i.customer_title = "Cameras: sharp, clear and straight";
  i.holds = {Resource::cameras, Resource::screen, Resource::page, Resource::hands, Resource::battery_load};
  i.budget = std::chrono::seconds(100);
  i.caution = "Pictures are measured and dropped. Keep faces and papers out of view all the same.";
  return i;
}

std::vector<SectionSpec> Cameras::sections() {
  const auto part = [](Term key, Term expects, double min, double max) {
    return KeySpec{key, KeyType::number, expects, false, min, max};
  };
  return {
      {"camera",
       true,
       {{"facing", KeyType::text, "\"back\" or \"front\"", true},
        {"index", KeyType::integer, "its place among the cameras that face that way, from 0", true, 0, 15},
        {"width", KeyType::integer, "the frame's width in pixels", true, 320, 8192},
        {"height", KeyType::integer, "the frame's height in pixels", true, 240, 8192},
        part("view_deg", "what the camera sees over the frame's width, in degrees", 30, 130),
        {"focus", KeyType::boolean, "true or false: it has autofocus that the phone's browser can set",
         false},
        {"light", KeyType::boolean, "true or false: it has a light that the phone's browser can switch",
         false}}},
      {"chart",
       false,
       {{"squares_x", KeyType::numbers,
         "five fractions of the width: centre, top left, top right, bottom left, bottom right", false, 0, 1},
        {"squares_y", KeyType::numbers, "five fractions of the height, in the same order", false, 0, 1},
        part("side", "the tiles' side as a fraction of the height", 0.05, 0.4),
        part("lean_deg", "how far the tiles' sides lean, in degrees", 3, 10),
        part("trap_x", "the black trap's place as a fraction of the width", 0, 1),
        part("trap_y", "the black trap's place as a fraction of the height", 0, 1),
        part("trap_side", "the black trap's side as a fraction of the height", 0.02, 0.4),
        part("aspect", "its width over its height", 1, 2),
        part("ground", "the ground's linear reflectance", 0.2, 1),
        part("tile", "the tiles' linear reflectance", 0.02, 0.6),
        part("trap", "the trap's linear reflectance", 0, 0.1),
        part("height_mm", "the printed chart's height in mm", 50, 2000),
        part("print_blur", "Gaussian sigma of the printed edges as a fraction of its height", 0, 0.001)}}};
}

namespace {
Error profile_error(const char* what, const char* where, const char* next) {
  return {ErrorCode::invalid_argument, what, where, next};
}

Result<Cameras::Chart> chart_of(const Section& s) {
  Cameras::Chart c;
  for (auto [key, into] : {std::pair{"squares_x", &c.x}, std::pair{"squares_y", &c.y}}) {
    if (!s.has(key)) continue;
    const auto v = s.numbers(key);
    if (v.size() != into->size())
      return profile_error("the chart has five tiles", "chart", "Give five numbers in each list.");
    for (std::size_t i = 0; i < v.size(); ++i) (*into)[i] = v[i];
  }
  c.side = s.number("side", c.side);
  c.lean_deg = s.number("lean_deg", c.lean_deg);
  c.aspect = s.number("aspect", c.aspect);
  c.tile = s.number("tile", c.tile);
  c.height_mm = s.number("height_mm", c.height_mm);
  c.print_blur = s.number("print_blur", c.print_blur);
  c.trap_x = s.number("trap_x", c.trap_x);
  c.trap_y = s.number("trap_y", c.trap_y);
  c.trap_side = s.number("trap_side", c.trap_side);
  c.ground = s.number("ground", c.ground);
  c.trap = s.number("trap", c.trap);
  if (!(c.trap < c.ground) || !(c.tile < c.ground))
    return profile_error("the chart's trap and tiles are not darker than its ground", "chart.trap",
                         "Measure both reflectances again.");
  return c;
}
}  // namespace

Result<Cameras::Config> Cameras::configure(const Sections& sections) {
  Config c;
  for (const Section* s : sections.named("camera")) {
    Camera one;
    one.name = s->name;
    const std::string facing = s->text("facing");
    if (facing != "back" && facing != "front")
      return profile_error("a camera faces back or front", "camera.facing", "Write \"back\" or \"front\".");
    one.facing = facing == "front" ? Facing::front : Facing::back;
    one.index = static_cast<int>(s->integer("index"));
    one.width = static_cast<int>(s->integer("width"));
    one.height = static_cast<int>(s->integer("height"));
    one.view_deg = s->number("view_deg", one.view_deg);
    one.focus = s->boolean("focus");
    one.light = s->boolean("light");
    for (const Camera& other : c.cameras)
      if (other.facing == one.facing && other.index == one.index)
        return profile_error("two cameras have the same facing and index", "camera.index",
                             "Count the cameras of each side from 0.");
    c.cameras.push_back(std::move(one));
  }
  if (c.cameras.empty())
    return profile_error("the camera check needs at least one [[camera]] table", "camera",
                         "Add the model's cameras.");
  if (const Section* s = sections.one("chart")) {
    auto chart = chart_of(*s);
    if (!chart) return chart.error();
    c.chart = *chart;
  }
  return c;
}

std::vector<Term> Cameras::limit_keys() {
  return {"cameras.listed",
          "cameras.present",
          "cameras.focus_px_per_dpt",
          "cameras.focus_best_dpt",
          "cameras.focus_error_dpt",
          "cameras.light_gain",
          "cameras.mtf50_centre_cpp",
          "cameras.mtf50_worst_corner_cpp",
          "cameras.corner_balance",
          "cameras.glare_pct",
          "cameras.white_delta_e00",
          "cameras.shading_asymmetry_pct",
          "cameras.stuck_pixels",
          "cameras.pixels_searched_pct",
          "cameras.frames"};
}

void to_json(nlohmann::json& j, const Cameras::FrameNumbers& f) {
  j = {{"seen", static_cast<int>(f.seen)},
       {"mtf50_cpp", f.mtf50_cpp},
       {"u_mtf50_cpp", f.u_mtf50_cpp},
       {"mtf50_level_cpp", f.mtf50_level_cpp},
       {"sfr", f.sfr},
       {"scale", f.scale},
       {"tilt_deg", {f.yaw_deg, f.pitch_deg, f.roll_deg}},
       {"place_px", {f.x_px, f.y_px}},
       {"t_ms", f.t_ms},
       {"level", f.level},
       {"lab", f.lab},
       {"corner", f.corner},
       {"trap_ratio", f.trap_ratio},
       {"clipped", f.clipped},
       {"pixels", f.pixels}};
}
void from_json(const nlohmann::json& j, Cameras::FrameNumbers& f) {
  const int seen = j.at("seen").get<int>();
  // An unknown reason reads as "no chart": never as measured.
  f.seen = seen >= 0 && seen < kChartSeen ? static_cast<Cameras::Seen>(seen) : Cameras::Seen::no_chart;
  j.at("mtf50_cpp").get_to(f.mtf50_cpp);
  j.at("u_mtf50_cpp").get_to(f.u_mtf50_cpp);
  j.at("sfr").get_to(f.sfr);
  j.at("mtf50_level_cpp").get_to(f.mtf50_level_cpp);
  j.at("scale").get_to(f.scale);
  const auto tilt = j.at("tilt_deg").get<std::array<double, 3>>();
  f.yaw_deg = tilt[0], f.pitch_deg = tilt[1], f.roll_deg = tilt[2];
  const auto place = j.at("place_px").get<std::array<double, 2>>();
  f.x_px = place[0], f.y_px = place[1];
  j.at("t_ms").get_to(f.t_ms);
  j.at("level").get_to(f.level);
  j.at("lab").get_to(f.lab);
  j.at("corner").get_to(f.corner);
  j.at("trap_ratio").get_to(f.trap_ratio);
  j.at("clipped").get_to(f.clipped);
  j.at("pixels").get_to(f.pixels);
}
NLOHMANN_DEFINE_TYPE_NON_INTRUSIVE(Cameras::CameraCapture, part, present, frames, elsewhere, focus, light)
void to_json(nlohmann::json& j, const Cameras::Capture& c) {
  j = {
      {"listed", c.listed}, {"page_back", c.page_back}, {"page_front", c.page_front}, {"cameras", c.cameras}};
}
void from_json(const nlohmann::json& j, Cameras::Capture& c) {
  j.at("listed").get_to(c.listed);
  j.at("page_back").get_to(c.page_back);
  j.at("page_front").get_to(c.page_front);
  j.at("cameras").get_to(c.cameras);
}
}  // namespace hb::checks
