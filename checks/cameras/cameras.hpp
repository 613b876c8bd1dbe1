/// Cameras: is every camera there, sharp in the middle and in all corners, clear, and even? Frames of the
/// bench's chart are measured as they come and dropped; only numbers are kept.
/// Coordinates: pixels, x right, y down, pixel centres at whole numbers plus one half.
/// Threads: acquire() on the phone's strand; the rest is pure. See README.md for the measures.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "checks/action/chart_seen.hpp"
#include "checks/cameras/chart.hpp"
#include "checks/cameras/focus.hpp"
#include "checks/cameras/light.hpp"
#include "checks/cameras/pixels.hpp"
#include "checks/definition.hpp"

namespace hb::checks {

struct Cameras {
  struct Camera {
    ShopText name;
    Facing facing = Facing::back;
    int index = 0;  ///< among the cameras that face that way, from 0
    int width = 0, height = 0;
    double view_deg = 68;  ///< over the frame's width
    bool focus = false;    ///< it has autofocus, and the phone's browser can set it
    bool light = false;    ///< it has a light beside it, and the phone's browser can switch it
  };
  using Chart = camera::Chart;
  struct Config {
    std::vector<Camera> cameras;
    Chart chart;
  };

  using Seen = ChartSeen;
  static constexpr int kCurvePoints = 33;  ///< SFR at 0, 1/64 .. 32/64 cycles per pixel

  /// One frame, as numbers. Tiles in the order of Chart; a tile that could not be read has mtf50 0.
  struct FrameNumbers {
    Seen seen = Seen::no_chart;
    std::array<double, 5> mtf50_cpp{}, u_mtf50_cpp{};  ///< mean of the edges that run up and down
    std::array<double, 5> mtf50_level_cpp{};           ///< of an edge that runs across; 0: none
    std::array<std::vector<double>, 5> sfr;            ///< kCurvePoints each, or empty
    double scale = 0;                                  ///< chart's height over the frame's
    double yaw_deg = 0, pitch_deg = 0, roll_deg = 0;   ///< camera::Pose
    double x_px = 0, y_px = 0;                         ///< the chart's middle in the frame
    double t_ms = 0;                                   ///< when it was taken
    double level = 0;                                  ///< linear light of the ground beside the centre, 0..1
    std::array<double, 3> lab{};                       ///< of that ground; L* 100 is full scale
    std::array<double, 4> corner{};  ///< ground in the corners over the ground beside the centre, less the
                                     ///< lens's even fall about the frame's middle
    double trap_ratio = 0;           ///< light in the black trap over the ground beside it
    double clipped = 0;              ///< fraction of ground pixels at full scale
    camera::PixelLook pixels;        ///< of a measured frame
  };
  struct CameraCapture {
    std::string part;
    bool present = false;  ///< a camera answered at this place
    std::vector<FrameNumbers> frames;
    std::vector<camera::Elsewhere> elsewhere;  ///< a second aim's; empty: there was no need for it
    camera::FocusCapture focus;
    camera::LightCapture light;
  };
  struct Capture {
    int listed = -1;                      ///< cameras that the phone lists; -1: not reported
    int page_back = -1, page_front = -1;  ///< cameras that the page can reach; -1: not reported
    std::vector<CameraCapture> cameras;
  };

  [[nodiscard]] static CheckInfo needs();
  [[nodiscard]] static std::vector<SectionSpec> sections();
  [[nodiscard]] static Result<Config> configure(const Sections& sections);
  [[nodiscard]] static std::vector<Term> limit_keys();
  /// unsupported: no browser may be used, or the owner refused the camera on the page.
  [[nodiscard]] net::awaitable<Result<Capture>> acquire(Context& context, const Config& config) const;
  /// unsupported: a camera that answered did not see the chart (with what to change). bad_format: torn.
  [[nodiscard]] static Result<Measured> measure(const Capture& capture, const Config& config);
  [[nodiscard]] static std::vector<Finding> diagnose(std::span<const Verdict> verdicts,
                                                     const Capture& capture, const Config& config);

  /// Within these a picture is measured, outside it is refused with what to change: the stated range (scale
  /// 0.55 to 1.10, 12 degrees about each axis) and a margin for what the estimate itself may be off.
  static constexpr double kLeastScale = 0.53, kMostScale = 1.13, kMostTilt_deg = 14;

  /// Measures one frame of the chart, held by hand or hung. Pure and total: any frame gives numbers or a
  /// reason. No pixel is resampled for the sharpness.
  /// Sources: ISO 12233 (edges), IEC 61966-2-1 (light), CIE 15 (Lab); kernel/homography.hpp (pose).
  [[nodiscard]] static FrameNumbers analyse(const Frame& frame, const Chart& chart, double view_deg = 68);
  /// Measured frames of one take that moved between or during exposures are marked `moved`: more than one
  /// pixel in 1/30 s, or frames of unlike sharpness.
  static void mark_moved(std::vector<FrameNumbers>& frames);
};

void to_json(nlohmann::json& j, const Cameras::Capture& c);
void from_json(const nlohmann::json& j, Cameras::Capture& c);

}  // namespace hb::checks
