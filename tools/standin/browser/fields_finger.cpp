#include "fields_finger.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>

namespace hb::standin {
namespace {
constexpr net::milliseconds kTick{25};
constexpr int kPatience = 400;    // ticks without anything new
constexpr double kPage_px = 360;  // CSS width of a phone

// Where the page is: "", "intro" or the field's name.
constexpr const char* kPlace =
    "(() => { const f = document.querySelector('#fields'); if (!f || f.hidden) return '';"
    " return f.dataset.stage === 'field' ? document.querySelector('#field').dataset.field : 'intro'; })()";

std::string centre_of(const std::string& selector) {
  return "(() => { const r = document.querySelector('" + selector +
         "').getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; })()";
}

net::awaitable<bool> press(Devtools& d, std::string selector) {
  const auto at = co_await d.evaluate(centre_of(selector));
  if (!at || !at->is_array()) co_return false;
  const auto done = co_await d.tap(at->at(0).get<double>(), at->at(1).get<double>());
  co_return done.has_value();
}

nlohmann::json metrics(int width_px, int height_px) {
  const double scale = std::max(1.0, std::round(width_px / kPage_px));
  nlohmann::json m = nlohmann::json::object();
  m["width"] = std::lround(width_px / scale), m["height"] = std::lround(height_px / scale);
  m["deviceScaleFactor"] = scale, m["mobile"] = true;
  return m;
}

nlohmann::json finger(const char* type, double x, double y) {
  nlohmann::json p = nlohmann::json::object();
  p["type"] = type, p["x"] = x, p["y"] = y, p["button"] = "left", p["buttons"] = 1, p["clickCount"] = 1;
  return p;
}

net::awaitable<bool> draw(Devtools& d, double x0, double y0, double x1, double y1) {
  const auto down = co_await d.call("Input.dispatchMouseEvent", finger("mousePressed", x0, y0));
  const auto moved = co_await d.call("Input.dispatchMouseEvent", finger("mouseMoved", x1, y1));
  const auto up = co_await d.call("Input.dispatchMouseEvent", finger("mouseReleased", x1, y1));
  co_return down&& moved&& up;
}

// The bar is moved out of the way of a mark below it.
net::awaitable<bool> put(Devtools& d, ScreenMark mark) {
  const auto size = co_await d.evaluate(
      "[innerWidth, innerHeight, document.querySelector('#fields-bar')."
      "getBoundingClientRect().y > 0, document.querySelector('#fields-bar')."
      "offsetHeight]");
  if (!size || !size->is_array()) co_return false;
  const double w = size->at(0).get<double>(), h = size->at(1).get<double>(), bar = size->at(3).get<double>();
  const double x = mark.x * w, y = mark.y * h;
  const bool below = size->at(2).get<bool>();
  const double top = y - mark.h * h / 2, bottom = y + mark.h * h / 2;
  if (below ? bottom > h - bar - 1 : top < bar + 1) {
    const bool moved = co_await press(d, "#fields-move");
    if (!moved) co_return false;
  }
  const bool chosen = co_await press(d, fmt::format("#fields-bar [data-kind=\"{}\"]", mark.kind));
  if (!chosen) co_return false;
  const double half_w = mark.w * w / 2, half_h = mark.h * h / 2;
  if (half_w > 0 && half_h > 0) co_return co_await draw(d, x - half_w, y - half_h, x + half_w, y + half_h);
  const auto tapped = co_await d.tap(std::min(x, w - 0.5), std::min(y, h - 0.5));
  co_return tapped.has_value();
}
}  // namespace

net::awaitable<bool> go_through_fields(Devtools& d, const Onlooker& onlooker, const bool& over) {
  const auto first = co_await d.evaluate(kPlace);
  if (!first || !first->is_string() || first->get<std::string>().empty()) co_return false;
  const auto [width, height] = onlooker.size_px();
  const auto sized = co_await d.call("Emulation.setDeviceMetricsOverride", metrics(width, height));
  if (!sized) co_return false;
  std::string last;
  for (int idle = 0; idle < kPatience && !over;) {
    const auto seen = co_await d.evaluate(kPlace);
    if (!seen || !seen->is_string()) co_return false;
    const std::string place = seen->get<std::string>();
    if (place.empty()) co_return true;
    if (place != last) {
      last = place, idle = 0;
      if (place == "intro") {
        const bool begun = co_await press(d, "#fields-begin");
        if (!begun) co_return false;
      } else {
        for (const ScreenMark& m : onlooker.marks(place)) {
          const bool done = co_await put(d, m);
          if (!done) co_return false;
        }
        const bool next = co_await press(d, "#fields-next");
        if (!next) co_return false;
      }
    }
    const auto waited = co_await net::pause(kTick);
    if (!waited) co_return false;
    ++idle;
  }
  co_return false;
}
}  // namespace hb::standin
