/// Cameras: is every camera there, sharp in the middle and in all corners, clear, and even? Frames of the
/// bench's chart are measured as they come and dropped; only numbers are kept.
/// Coordinates: pixels, x right, y down, pixel centres at whole numbers plus one half.
/// Threads: acquire() on the phone's strand; the rest is pure. See README.md for the measures.
#pragma once

#include <array>
#include <string>
#include <vector>

#include "checks/check.hpp"

namespace hb::checks {

struct Cameras {
  struct Camera {
    ShopText name;
    Facing facing = Facing::back;
    int index = 0;  ///< among the cameras that face that way, from 0
    int width = 0, height = 0;
  };
  /// The bench's chart, filling the frame: fractions of frame width and height, sizes as fractions of the
  /// height. Five dark squares on a light neutral ground, turned counter-clockwise, and a black trap.
  struct Chart {
    /// Centre, top left, top right, bottom left, bottom right.
    std::array<double, 5> x{0.50, 0.15, 0.85, 0.15, 0.85}, y{0.50, 0.17, 0.17, 0.83, 0.83};
    double side = 0.16, angle_deg = 5;
    double trap_x = 0.50, trap_y = 0.17, trap_side = 0.10;
    double ground = 0.72, trap = 0.02;  ///< linear reflectances
  };
  struct Config {
    std::vector<Camera> cameras;
    Chart chart;
  };

  /// Why a frame could not be measured; the texts in measure() say what to change.
  enum class Seen {
    measured,
    no_chart,          ///< the five squares are not where they should be
    too_dark,          ///< the ground is under 10 % of full scale
    too_bright,        ///< more than 2 % of the ground is clipped
    edges_unreadable,  ///< squares found, edges not: shaken, cut off, or something in front
    wrong_size         ///< the camera gave another resolution than the profile asks
  };
  static constexpr int kCurvePoints = 33;  ///< SFR at 0, 1/64 .. 32/64 cycles per pixel

  /// One frame, as numbers. Squares in the order of Chart; a square that could not be read has mtf50 0.
  struct FrameNumbers {
    Seen seen = Seen::no_chart;
    std::array<double, 5> mtf50_cpp{}, u_mtf50_cpp{};  ///< mean of the left and the right edge
    std::array<std::vector<double>, 5> sfr;            ///< kCurvePoints each, or empty
    double scale = 0;                                  ///< size of the chart in the frame, 1: fills it
    double level = 0;                                  ///< linear light of the ground beside the centre, 0..1
    std::array<double, 3> lab{};                       ///< of that ground; L* 100 is full scale
    std::array<double, 4> corner{};  ///< ground in the corners over the ground beside the centre
    double trap_ratio = 0;           ///< light in the black trap over the ground beside it
    double clipped = 0;              ///< fraction of ground pixels at full scale
  };
  struct CameraCapture {
    std::string part;
    bool present = false;  ///< a camera answered at this place
    std::vector<FrameNumbers> frames;
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

  /// Measures one frame of the chart. Pure and total: any frame gives numbers or a reason. The chart may be
  /// 0.6 to 1.3 times the frame, shifted and turned a little, and upside down.
  /// Sources: ISO 12233 (edges), IEC 61966-2-1 (light), CIE 15 (Lab); Otsu 1979 (threshold of the squares).
  [[nodiscard]] static FrameNumbers analyse(const Frame& frame, const Chart& chart);
};

void to_json(nlohmann::json& j, const Cameras::Capture& c);
void from_json(const nlohmann::json& j, Cameras::Capture& c);

}  // namespace hb::checks
