#include <nlohmann/json.hpp>

#include "checks/sound/sound.hpp"

namespace hb::checks {

CheckInfo Sound::needs() {
  CheckInfo i;
  i.id = "sound";
  i.title = "Speakers and microphones";
  i.customer_title = "Speakers and microphones";
  i.holds = {Resource::screen, Resource::page, Resource::hands, Resource::battery_load};
  i.budget = std::chrono::seconds(30);
  i.caution =
      "Turn the media volume fully up and headphones off. A rising tone is played: keep the phone on the "
      "bench, "
      "away from ears. Recordings are measured and dropped.";
  return i;
}

std::vector<SectionSpec> Sound::sections() {
  return {
      {"speaker",
       true,
       {{"output", KeyType::integer, "its place among the browser's outputs, from 0", true, 0, 15}}},
      {"microphone",
       true,
       {{"index", KeyType::integer, "its place among the browser's microphones, from 0", true, 0, 15},
        {"levels_db", KeyType::numbers,
         "a good phone's level from each speaker, in the order of the [[speaker]] tables", true, -100, 40}}}};
}

Result<Sound::Config> Sound::configure(const Sections& sections) {
  Config c;
  for (const Section* s : sections.named("speaker"))
    c.speakers.push_back({s->name, static_cast<int>(s->integer("output"))});
  for (const Section* s : sections.named("microphone"))
    c.microphones.push_back({s->name, static_cast<int>(s->integer("index")), s->numbers("levels_db")});
  if (c.speakers.empty() || c.microphones.empty())
    return Error{ErrorCode::invalid_argument, "the sound check needs [[speaker]] and [[microphone]] tables",
                 "speaker", "Add the model's speakers and microphones."};
  for (const auto& m : c.microphones)
    if (m.levels_db.size() != c.speakers.size())
      return Error{ErrorCode::invalid_argument, "a microphone's levels are not one a speaker",
                   "microphone.levels_db", "Write one level for each [[speaker]], in their order."};
  return c;
}

std::vector<Term> Sound::limit_keys() {
  return {"sound.speaker_heard",       "sound.speaker_level_db",     "sound.speaker_treble_db",
          "sound.speaker_thd_pct",     "sound.speaker_rub_buzz_db",  "sound.microphone_heard",
          "sound.microphone_level_db", "sound.microphone_treble_db", "sound.microphone_noise_dbfs"};
}

namespace {
constexpr int kFoundCount = 5;
}
void to_json(nlohmann::json& j, const Sound::Take& t) {
  j = {{"speaker", t.speaker},
       {"microphone", t.microphone},
       {"seen", static_cast<int>(t.seen)},
       {"band_db", t.band_db},
       {"thd", t.thd},
       {"rub_db", t.rub_db},
       {"noise_dbfs", t.noise_dbfs}};
}
void from_json(const nlohmann::json& j, Sound::Take& t) {
  const int seen = j.at("seen").get<int>();
  // An unknown reason reads as nothing heard: never as measured.
  t.seen = seen >= 0 && seen < kFoundCount ? static_cast<Sound::Found>(seen) : Sound::Found::nothing;
  j.at("speaker").get_to(t.speaker);
  j.at("microphone").get_to(t.microphone);
  j.at("band_db").get_to(t.band_db);
  j.at("thd").get_to(t.thd);
  j.at("rub_db").get_to(t.rub_db);
  j.at("noise_dbfs").get_to(t.noise_dbfs);
}
void to_json(nlohmann::json& j, const Sound::Capture& c) {
  j = {{"outputs", c.outputs}, {"microphones", c.microphones}, {"takes", c.takes}};
}
void from_json(const nlohmann::json& j, Sound::Capture& c) {
  j.at("outputs").get_to(c.outputs);
  j.at("microphones").get_to(c.microphones);
  j.at("takes").get_to(c.takes);
}
}  // namespace hb::checks
