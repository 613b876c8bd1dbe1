// What a person is told, in English; other languages translate these very sentences.
#include <fmt/format.h>

#include "checks/action/action.hpp"

namespace hb::checks {
namespace {
using Said = std::vector<Saying>;

std::string whole(double v) { return fmt::format("{:.0f}", v); }

struct Words {
  Said operator()(const LeaveAlone& a) const {
    return {{"Lay the phone down and touch nothing for {0} s.", {whole(a.seconds)}}};
  }
  Said operator()(const SweepPanel& a) const {
    const Saying rest{"Then draw both diagonals, one line across and one down, and tap with two fingers."};
    if (a.panel.empty())
      return {{"The screen: wipe one finger over all of it, edge to edge, line by line."}, rest};
    return {{"{0} screen: wipe one finger over all of it, edge to edge, line by line.", {a.panel.str()}},
            rest};
  }
  Said operator()(const FoldCycles& a) const {
    return {{"From flat: close fully, open fully, {0} times, with a short stop at both ends.",
             {std::to_string(a.cycles)}}};
  }
  Said operator()(const HoldAtStop& a) const {
    if (a.degrees < 1) return {{"Hold the phone fully closed."}};
    if (a.degrees > 179) return {{"Hold the phone fully open, flat on the bench."}};
    return {{"Hold the phone at {0} degrees, against the square.", {whole(a.degrees)}}};
  }
  Said operator()(const PlaceOnPad&) const {
    return {{"Unplug any cable and lay the phone in the middle of the charging pad."}};
  }
  Said operator()(const ShiftOnPad& a) const {
    return {{"Push the phone {0} mm off the middle of the pad.", {whole(a.millimetres)}}};
  }
  Said operator()(const LiftFromPad&) const { return {{"Take the phone off the pad."}}; }
  Said operator()(const PointAtChart& a) const {
    Said out;
    if (a.last != ChartSeen::measured) out.push_back({"Once more: {0}.", {to_change(a.last).str()}});
    out.push_back({"Aim the {0} camera at the chart so that the chart fills the picture. Hold still.",
                   {a.camera.str()}});
    return out;
  }
  Said operator()(const AllowOnPage&) const { return {{"On the phone's page, tap Start and then Allow."}}; }
  Said operator()(const Unfold&) const { return {{"Open the phone flat."}}; }
  Said operator()(const Fold&) const { return {{"Close the phone."}}; }
  Said operator()(const PressKey& a) const {
    return {{"Press the {0} key {1} times: short presses, about one a second.",
             {a.key.str(), std::to_string(a.times)}}};
  }
  Said operator()(const LayOnFace& a) const {
    const Saying leave{"Let go of it, and leave it so until the next prompt."};
    switch (a.up) {
      case Face::screen:
        return {{"Lay the phone on its back, screen up."}, leave};
      case Face::back:
        return {{"Lay the phone on its screen, with a soft cloth below."}, leave};
      case Face::top_edge:
        return {{"Stand the phone upright on its bottom edge."}, leave};
      case Face::bottom_edge:
        return {{"Stand the phone upside down on its top edge."}, leave};
      case Face::right_edge:
        return {{"Lay the phone on its left edge, screen upright."}, leave};
      case Face::left_edge:
        return {{"Lay the phone on its right edge, screen upright."}, leave};
    }
    return {leave};
  }
  Said operator()(const PlugIn& a) const {
    if (a.turned_over) return {{"Plug the bench's charger in, mark down. Then leave it."}};
    return {{"Plug the bench's charger in, mark up. Then leave it."}};
  }
  Said operator()(const WigglePlug& a) const {
    return {{"Move the plug gently in the port, up, down and sideways, for {0} s.", {whole(a.seconds)}}};
  }
  Said operator()(const Unplug&) const { return {{"Take the charger's plug out."}}; }
  Said operator()(const CoverTop&) const {
    return {{"Cover the top of the screen with a finger and keep it there until the next prompt."}};
  }
  Said operator()(const CoverLight& a) const {
    Said out;
    if (a.again) out.push_back({"Once more, nothing was seen of the light."});
    out.push_back(
        {"Lay a finger over the {0} camera and its light, so that both are covered, and keep it "
         "there for 5 s after Enter.",
         {a.camera.str()}});
    out.push_back(
        {"The light goes on and gets warm: lift the finger if it is too warm. Do not look into it."});
    return out;
  }
  Said operator()(const MarkFields& a) const {
    const Saying rest{
        "Look at each of its {0} full-screen fields from about 30 cm, tap what is wrong, then Next.",
        {std::to_string(a.fields)}};
    if (a.panel.empty()) return {{"The screen: tap Begin on the phone's page."}, rest};
    return {{"{0} screen: tap Begin on the phone's page.", {a.panel.str()}}, rest};
  }
};
}  // namespace

Said words(const Action& action) { return std::visit(Words{}, action); }

Saying words(const Question& q) {
  switch (q.inspection) {
    case Inspection::widest_gap:
      return {"Slide a feeler gauge along the whole edge of the {0}: widest gap in mm?", {q.part.str()}};
    case Inspection::screws:
      return {"Screws, {0}: how many are there?", {q.part.str()}};
    case Inspection::seated:
      return {"Does the {0} sit flush all round? y or n", {q.part.str()}};
    case Inspection::colour_agreed:
      return {"Is the colour of the {0} the agreed one? y or n", {q.part.str()}};
    case Inspection::new_adhesive:
      return {"Was new adhesive used under the {0}? y or n", {q.part.str()}};
    case Inspection::buzzed:
      return {"Did the phone vibrate just now, three times? y or n"};
    case Inspection::sim_in:
      return {"The phone reads no SIM. Is the bench's SIM in, its tray pushed home? y or n"};
    case Inspection::nfc_on:
      return {"The phone says that NFC is off. Is it switched on in the settings? y or n"};
  }
  return {};
}
}  // namespace hb::checks
