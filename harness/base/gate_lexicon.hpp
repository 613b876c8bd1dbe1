// Private to harness/base: what kind of word a word is, for the grammar of gate_words.cpp. The lists are this
// project's own choice from common speech of benches in English, German and Arabic; no source.
#pragma once

#include <cstdint>
#include <string_view>

namespace hb::detail {
enum Kind : std::uint32_t {
  kSecret = 1U << 0,        ///< says a secret follows, whatever stands beside it: "password"
  kPin = 1U << 1,           ///< a secret, or a contact of a connector
  kCode = 1U << 2,          ///< a secret, or an error's, a colour's, a printed one
  kCodeOfThings = 1U << 3,  ///< makes a code harmless: "QR", "error", "colour"
  kCodeReader = 1U << 4,    ///< and from behind: "reader", "scanner"
  kPattern = 1U << 5,       ///< a secret, or something seen
  kPatternOfThings = 1U << 6,
  kUnlock = 1U << 7,      ///< "unlock", "opens"
  kLock = 1U << 8,        ///< "lock", "Sperre"
  kBody = 1U << 9,        ///< "finger", "face": what unlocks without a secret
  kPrompt = 1U << 10,     ///< "prompt", "field"
  kAsks = 1U << 11,       ///< what a phone does with a password's field
  kWith = 1U << 12,       ///< "with", "by", "mit"
  kIs = 1U << 13,         ///< "is", "lautet"
  kConnector = 1U << 14,  ///< where contacts are: "port", "pogo"
  kWifi = 1U << 15,
  kKey = 1U << 16,
  kNumberWord = 1U << 17,  ///< "zero" to "nine"
  kHonorific = 1U << 18,
  kName = 1U << 19,       ///< a given or family name that is nothing else
  kMaybeName = 1U << 20,  ///< a name that is a word as well
  kPhone = 1U << 21,      ///< what somebody owns: "phone", "Handy"
  kCall = 1U << 22,       ///< "call", "ring", "ask"
  kBelongs = 1U << 23,    ///< "belongs", "gehört"
  kCustomer = 1U << 24,   ///< "customer", "owner", "wife"
  kNobody = 1U << 25,     ///< words that name no person: articles, pronouns, "customer"
  kGreeting = 1U << 26,
  kStreet = 1U << 27,
  kUnit = 1U << 28,
  kTelephone = 1U << 29,  ///< says a telephone number follows
  kTop = 1U << 30,        ///< last label of an internet name
  kNameWord = 1U << 31    ///< "name", "Name", "اسم"
};

/// All kinds of a word: lower case, accents folded (ä as ae, é as e), Arabic without vowel signs and with
/// plain alef. 0 for an unknown word.
[[nodiscard]] std::uint32_t kinds(std::string_view word);
/// As kinds(); for an Arabic word also those of what is left without its prefixes (and, with, for, the).
[[nodiscard]] std::uint32_t kinds_behind_prefixes(std::string_view word);
/// The word, or one typing error away from it, always announces a secret.
[[nodiscard]] bool nearly_secret(std::string_view word);
/// Given and family names, separated by spaces: `sure` ones are nothing else.
struct Names {
  std::string_view sure, maybe;
};
[[nodiscard]] Names names() noexcept;
}  // namespace hb::detail
