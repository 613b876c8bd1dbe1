#include "reports/record/catalogue.hpp"

#include <algorithm>
#include <utility>

#include "harness/base/text.hpp"

namespace hb::record {
namespace {
constexpr CatalogueEntry kFaults[] = {
    {"screen-dark", "screen dark"},
    {"inner-screen-dark", "inner screen dark"},
    {"outer-screen-dark", "outer screen dark"},
    {"half-dark", "one half of the inner screen dark"},
    {"fold-dark", "inner screen dark along the fold"},
    {"screen-cracked", "screen cracked"},
    {"inner-screen-cracked", "inner screen cracked"},
    {"outer-screen-cracked", "outer screen cracked"},
    {"screen-lines", "lines on the screen"},
    {"screen-spots", "spots on the screen"},
    {"screen-flickers", "screen flickers"},
    {"crease-worse", "crease deeper than before"},
    {"film-lifts", "film on the inner screen lifts"},
    {"touch-dead", "touch does not react"},
    {"touch-dead-fold", "touch dead along the fold"},
    {"ghost-touch", "touches by itself"},
    {"hinge-stiff", "hinge stiff"},
    {"hinge-loose", "hinge loose"},
    {"hinge-noise", "hinge creaks or grinds"},
    {"not-flat", "does not open flat"},
    {"not-closed", "does not close fully"},
    {"fold-not-noticed", "does not notice that it is opened or closed"},
    {"does-not-start", "does not switch on"},
    {"restarts", "restarts by itself"},
    {"does-not-charge", "does not charge"},
    {"charges-slowly", "charges slowly"},
    {"charging-stops", "charging stops and starts"},
    {"wireless-charging-fails", "wireless charging fails"},
    {"battery-drains", "battery drains fast"},
    {"back-swollen", "back swollen"},
    {"gets-hot", "gets hot"},
    {"camera-dark", "camera picture stays black"},
    {"camera-blurred", "camera picture blurred"},
    {"light-dead", "camera light does not work"},
    {"speaker-silent", "speaker silent"},
    {"speaker-rubs", "speaker rubs or buzzes"},
    {"earpiece-quiet", "earpiece too quiet"},
    {"microphone-silent", "not heard in calls"},
    {"key-dead", "side key does not react"},
    {"key-sticks", "side key sticks"},
    {"fingerprint-fails", "fingerprint reader does not react"},
    {"vibration-dead", "does not vibrate"},
    {"no-mobile-network", "no mobile network"},
    {"wifi-weak", "Wi-Fi weak or gone"},
    {"bluetooth-fails", "Bluetooth does not connect"},
    {"nfc-fails", "NFC does not work"},
    {"sim-not-read", "SIM card is not read"},
    {"picture-does-not-turn", "picture does not turn with the phone"},
    {"back-cracked", "back cover cracked"},
    {"frame-bent", "frame bent"},
    {"after-a-fall", "after a fall"},
    {"after-liquid", "after contact with liquid"},
    {"same-fault-again", "came back with the same fault"},
};
constexpr CatalogueEntry kRepairs[] = {
    {"display-hinge-swap", "display-hinge swap"},
    {"display-swap", "display swap"},
    {"outer-display-swap", "outer display swap"},
    {"hinge-swap", "hinge swap"},
    {"battery-swap", "battery swap"},
    {"back-cover-swap", "back cover swap"},
    {"charging-port-swap", "charging port swap"},
    {"charging-coil-swap", "charging coil swap"},
    {"camera-swap", "camera swap"},
    {"speaker-swap", "speaker swap"},
    {"microphone-swap", "microphone swap"},
    {"side-key-swap", "side key swap"},
    {"fingerprint-reader-swap", "fingerprint reader swap"},
    {"frame-swap", "frame swap"},
    {"flex-reseated", "flex cable seated again"},
    {"film-swap", "screen film swap"},
    {"cleaning", "cleaning"},
    {"inspection", "inspection only"},
};
constexpr CatalogueEntry kParts[] = {
    {"display-hinge-assembly", "display-hinge assembly"},
    {"display-assembly", "display assembly"},
    {"outer-display", "outer display"},
    {"hinge", "hinge"},
    {"battery-pack", "battery pack"},
    {"second-battery-pack", "second battery pack"},
    {"back-cover", "back cover"},
    {"cover-adhesive-set", "rear cover adhesive set"},
    {"battery-adhesive", "battery adhesive"},
    {"charging-port", "charging port"},
    {"charging-coil", "charging coil"},
    {"rear-camera", "rear camera"},
    {"front-camera", "front camera"},
    {"camera-glass", "camera glass"},
    {"loudspeaker", "loudspeaker"},
    {"earpiece", "earpiece"},
    {"microphone", "microphone"},
    {"side-key-flex", "side key flex"},
    {"fingerprint-reader", "fingerprint reader"},
    {"vibration-motor", "vibration motor"},
    {"antenna-flex", "antenna flex"},
    {"frame", "frame"},
    {"screen-film", "screen film"},
    {"screw-set", "screw set"},
};
constexpr CatalogueEntry kColours[] = {
    {"black", "black"},         {"white", "white"},   {"grey", "grey"},   {"graphite", "graphite"},
    {"silver", "silver"},       {"gold", "gold"},     {"rose", "rose"},   {"red", "red"},
    {"orange", "orange"},       {"yellow", "yellow"}, {"green", "green"}, {"mint", "mint"},
    {"turquoise", "turquoise"}, {"blue", "blue"},     {"navy", "navy"},   {"violet", "violet"},
    {"lavender", "lavender"},   {"cream", "cream"},   {"brown", "brown"}, {"copper", "copper"},
};

char low(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }
std::string lowered(std::string_view s) {
  std::string out(s);
  std::transform(out.begin(), out.end(), out.begin(), low);
  return out;
}

std::vector<std::string> words_of(std::string_view s) {
  std::vector<std::string> out{""};
  for (const char c : lowered(s)) {
    if (c != ' ' && c != '-' && c != ',' && c != '.' && c != ';')
      out.back() += c;
    else if (!out.back().empty())
      out.emplace_back();
  }
  if (out.back().empty()) out.pop_back();
  return out;
}

/// Words of four letters or more that begin alike, or shorter ones that are alike.
bool alike(const std::string& a, const std::string& b) {
  const auto n = std::min({a.size(), b.size(), std::size_t{5}});
  return a == b || (n >= 4 && a.compare(0, n, b, 0, n) == 0);
}

std::size_t shared_words(const std::vector<std::string>& said, const CatalogueEntry& e) {
  static const std::vector<std::string> kSmall{"the",  "on", "of", "is", "not",
                                               "does", "by", "in", "a",  "with"};
  auto theirs = words_of(e.id.view());
  for (auto& w : words_of(e.words.view())) theirs.push_back(std::move(w));
  std::size_t n = 0;
  for (const auto& w : said)
    if (std::find(kSmall.begin(), kSmall.end(), w) == kSmall.end())
      n += std::any_of(theirs.begin(), theirs.end(), [&](const auto& t) { return alike(w, t); }) ? 1 : 0;
  return n;
}
}  // namespace

std::span<const CatalogueEntry> catalogue(Catalogue which) noexcept {
  switch (which) {
    case Catalogue::faults:
      return kFaults;
    case Catalogue::repairs:
      return kRepairs;
    case Catalogue::parts:
      return kParts;
    case Catalogue::colours:
      return kColours;
  }
  return {};
}

Term sense(Catalogue which) noexcept {
  switch (which) {
    case Catalogue::faults:
      return "fault";
    case Catalogue::repairs:
      return "repair";
    case Catalogue::parts:
      return "fitted";
    case Catalogue::colours:
      return "colour";
  }
  return {};
}

const CatalogueEntry* find(Catalogue which, std::string_view said) {
  const auto wanted = lowered(trim(said));
  for (const auto& e : catalogue(which))
    if (wanted == e.id.view() || wanted == lowered(e.words.view())) return &e;
  return nullptr;
}

std::vector<std::string> suggestions(Catalogue which, std::string_view said, std::size_t most) {
  const auto words = words_of(said);
  std::vector<std::pair<std::size_t, std::string>> ranked;
  std::vector<std::string> ids;
  for (const auto& e : catalogue(which)) {
    ids.push_back(e.id.str());
    if (const auto n = shared_words(words, e); n > 0) ranked.emplace_back(n, e.id.str());
  }
  std::stable_sort(ranked.begin(), ranked.end(),
                   [](const auto& a, const auto& b) { return a.first > b.first; });
  std::vector<std::string> out;
  if (const auto typo = nearest(lowered(said), ids)) out.push_back(*typo);
  for (auto& [n, id] : ranked)
    if (std::find(out.begin(), out.end(), id) == out.end()) out.push_back(std::move(id));
  if (out.size() > most) out.resize(most);
  return out;
}

std::vector<std::string_view> pieces(std::string_view text) {
  std::vector<std::string_view> out;
  for (auto at = text.find(kBetween); at != std::string_view::npos; at = text.find(kBetween)) {
    out.push_back(text.substr(0, at));
    text.remove_prefix(at + kBetween.size());
  }
  out.push_back(text);
  return out;
}
}  // namespace hb::record
