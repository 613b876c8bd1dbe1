// Sentences on speakers and microphones.
#include "story.hpp"
#include "telling.hpp"
#include "words.hpp"

namespace hb::sheet {

Told said_of_sound(const CheckView& c, const Language& l) {
  Names silent, deaf, clear;
  const auto sounded = c.measures("speaker_heard");
  for (const auto* v : sounded)
    (v->measure.value < 0.5 ? silent : clear).push_back(part_words(c, v->measure.part, l));
  const auto listened = c.measures("microphone_heard");
  for (const auto* v : listened)
    if (v->measure.value < 0.5) deaf.push_back(part_words(c, v->measure.part, l));
  std::string gone, lost, well, heard;
  if (!silent.empty())
    gone = l.filln("{1} gave no sound", "{1} gave no sound", std::ssize(silent), listed(silent, l));
  if (!deaf.empty())
    lost = l.filln("{1} heard nothing", "{1} heard nothing", std::ssize(deaf), listed(deaf, l));
  if (proved(sounded) && proved(c.measures("speaker_level_db")) && proved(c.measures("speaker_treble_db")) &&
      proved(c.measures("speaker_thd_pct")) && proved(c.measures("speaker_rub_buzz_db")))
    well = l.filln("{1} sounded clear", "{1} sounded clear", std::ssize(clear), listed(clear, l));
  if (proved(listened) && proved(c.measures("microphone_level_db")) &&
      proved(c.measures("microphone_treble_db")))
    heard = l.tr("every microphone heard the test tone");
  return join({bad(gone), bad(lost), well, heard, worst_values(c, {"speaker_heard", "microphone_heard"}, l)});
}
}  // namespace hb::sheet
