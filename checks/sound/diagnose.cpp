#include <algorithm>

#include "checks/seen.hpp"
#include "checks/sound/sound.hpp"

namespace hb::checks {
namespace {

template <class Part>
bool all_bad(std::span<const Verdict> verdicts, const std::vector<Part>& parts, std::string_view key) {
  return std::all_of(parts.begin(), parts.end(), [&](const Part& p) {
    return Seen{verdicts, p.name}.bad(key);
  });
}

/// What is common to everything. A speaker is judged by the microphone that hears it best and a microphone by
/// the speaker that it hears best, so both are low together only where one of a side is all there is.
struct Common {
  bool silent = false, quiet = false, dull = false;
  bool one_speaker = false, one_microphone = false;
};
Common common_of(std::span<const Verdict> verdicts, const Sound::Config& c) {
  const auto both = [&](std::string_view speaker, std::string_view microphone) {
    return all_bad(verdicts, c.speakers, speaker) && all_bad(verdicts, c.microphones, microphone);
  };
  Common out;
  out.silent = both("sound.speaker_heard", "sound.microphone_heard");
  out.dull = both("sound.speaker_treble_db", "sound.microphone_treble_db");
  out.quiet = !out.dull && both("sound.speaker_level_db", "sound.microphone_level_db");
  // A part that the browser cannot reach has no verdict and does not count.
  out.one_speaker = c.speakers.size() == 1;
  out.one_microphone = c.microphones.size() == 1;
  return out;
}

void of_speaker(const Seen& seen, const Common& common, std::vector<Finding>& out) {
  if (seen.bad("sound.speaker_heard")) {
    out.push_back(seen.finding(
        "speaker_silent",
        "No microphone hears this speaker: either its contacts or flex are not seated, or it is dead.",
        "The speaker's spring contacts or flex: clean and seat them; then the speaker itself.",
        {"sound.speaker_heard"}));
    return;
  }
  const bool dull = seen.bad("sound.speaker_treble_db");
  if (dull && !(common.dull && common.one_microphone))
    out.push_back(seen.finding(
        "speaker_mesh_blocked",
        "This speaker's high notes are missing at every microphone: something lies over its opening.",
        "The speaker's mesh and its seal: look for film, glue, a misplaced gasket or dirt.",
        {"sound.speaker_treble_db", "sound.speaker_level_db"}));
  const bool rubs = seen.bad("sound.speaker_rub_buzz_db"), distorts = seen.bad("sound.speaker_thd_pct");
  if (rubs)
    out.push_back(
        seen.finding("speaker_rubs",
                     "This speaker buzzes: either its membrane touches something, or a screw or part "
                     "beside it is loose.",
                     "The screws and parts round the speaker, then dirt on its membrane, then the "
                     "speaker itself.",
                     {"sound.speaker_rub_buzz_db", "sound.speaker_thd_pct"}));
  else if (distorts)
    out.push_back(seen.finding(
        "speaker_distorts", "This speaker distorts without buzzing: its membrane or coil is damaged.",
        "The speaker itself: replace it.", {"sound.speaker_thd_pct", "sound.speaker_rub_buzz_db"}));
  if (seen.bad("sound.speaker_level_db") && !dull && !distorts && !common.quiet)
    out.push_back(seen.finding(
        "speaker_weak",
        "This speaker is too quiet: either its contacts are poor, or its seal leaks, or its "
        "mesh is partly blocked.",
        "The speaker's mesh, its spring contacts and the gasket round it.", {"sound.speaker_level_db"}));
}

void of_microphone(const Seen& seen, const Common& common, std::vector<Finding>& out) {
  if (seen.bad("sound.microphone_heard")) {
    out.push_back(
        seen.finding("microphone_silent",
                     "This microphone hears no speaker, others do: either its flex or contacts are not "
                     "seated, or it is dead.",
                     "The flex or board that carries this microphone: reseat it; then the microphone.",
                     {"sound.microphone_heard", "sound.microphone_noise_dbfs"}));
    return;
  }
  const bool dull = seen.bad("sound.microphone_treble_db");
  if (dull && (!common.dull || common.one_microphone))
    out.push_back(
        seen.finding("microphone_mesh_blocked",
                     "This microphone misses the high notes of every speaker: something lies over its "
                     "opening.",
                     "The microphone's mesh and hole in the frame: look for film, glue, a misplaced "
                     "gasket or dirt.",
                     {"sound.microphone_treble_db", "sound.microphone_level_db"}));
  if (seen.bad("sound.microphone_level_db") && !dull && !common.quiet)
    out.push_back(seen.finding(
        "microphone_weak",
        "This microphone hears every speaker too quietly: either its seal or its flex is poor, or its mesh "
        "is partly blocked.",
        "The microphone's mesh, gasket and flex, then the microphone.", {"sound.microphone_level_db"}));
}
}  // namespace

std::vector<Finding> Sound::diagnose(std::span<const Verdict> verdicts, const Capture&,
                                     const Config& config) {
  std::vector<Finding> out;
  const Common common = common_of(verdicts, config);
  const ShopText& first = config.speakers.front().name;
  if (common.silent) {
    out.push_back(Seen{verdicts, first}.finding(
        "nothing_heard",
        "No microphone heard any speaker: either the media volume was down or a headset took the sound, or "
        "what "
        "carries both speakers and microphones is not seated.",
        "Volume and headset first; then the flex to the lower board, and the boards' connectors.",
        {"sound.speaker_heard"}));
    return out;
  }
  if (common.quiet)
    out.push_back(Seen{verdicts, first}.finding(
        "everything_quiet",
        "Every speaker is too quiet at every microphone, with high notes as they should be: either the media "
        "volume was not fully up, or the phone was covered.",
        "The media volume first; take any case off and run this check again.", {"sound.speaker_level_db"}));
  if (common.dull && common.one_speaker && common.one_microphone) {
    out.push_back(Seen{verdicts, first}.finding(
        "one_mesh_blocked",
        "High notes are missing: something lies either over the speaker's opening or over the microphone's.",
        "Both meshes: look for film, glue, a misplaced gasket or dirt.", {"sound.speaker_treble_db"}));
    return out;
  }
  for (const auto& s : config.speakers) of_speaker(Seen{verdicts, s.name}, common, out);
  for (const auto& m : config.microphones) of_microphone(Seen{verdicts, m.name}, common, out);
  return out;
}
}  // namespace hb::checks
