#include "gate_words.hpp"

#include <algorithm>
#include <array>
#include <cstdint>

#include "gate_lexicon.hpp"
#include "gate_plain.hpp"
#include "harness/base/text.hpp"

namespace hb::detail {
namespace {
using Form = Word::Form;

/// Base letters of U+00C0 to U+017F; two letters where German or Nordic spelling does so.
constexpr const char* kLatin[] = {
    "a",  "a", "a",  "a",  "ae", "a", "ae", "c",  "e",  "e", "e",  "e", "i",  "i",  "i", "i", "d", "n",
    "o",  "o", "o",  "o",  "oe", "",  "o",  "u",  "u",  "u", "ue", "y", "th", "ss", "a", "a", "a", "a",
    "ae", "a", "ae", "c",  "e",  "e", "e",  "e",  "i",  "i", "i",  "i", "d",  "n",  "o", "o", "o", "o",
    "oe", "",  "o",  "u",  "u",  "u", "ue", "y",  "th", "y", "a",  "a", "a",  "a",  "a", "a", "c", "c",
    "c",  "c", "c",  "c",  "c",  "c", "d",  "d",  "d",  "d", "e",  "e", "e",  "e",  "e", "e", "e", "e",
    "e",  "e", "g",  "g",  "g",  "g", "g",  "g",  "g",  "g", "h",  "h", "h",  "h",  "i", "i", "i", "i",
    "i",  "i", "i",  "i",  "i",  "i", "ij", "ij", "j",  "j", "k",  "k", "k",  "l",  "l", "l", "l", "l",
    "l",  "l", "l",  "l",  "l",  "n", "n",  "n",  "n",  "n", "n",  "n", "n",  "n",  "o", "o", "o", "o",
    "o",  "o", "oe", "oe", "r",  "r", "r",  "r",  "r",  "r", "s",  "s", "s",  "s",  "s", "s", "s", "s",
    "t",  "t", "t",  "t",  "t",  "t", "u",  "u",  "u",  "u", "u",  "u", "u",  "u",  "u", "u", "u", "u",
    "w",  "w", "y",  "y",  "y",  "z", "z",  "z",  "z",  "z", "z",  "s"};
static_assert(std::size(kLatin) == 0x180 - 0xc0);

bool is_small(char c) { return c >= 'a' && c <= 'z'; }
bool is_digit(char c) { return c >= '0' && c <= '9'; }

void fold(std::string& out, std::string_view bytes, char32_t c) {
  if (c >= 0xc0 && c < 0x180) {
    out += c == 0xd7 ? "x" : kLatin[c - 0xc0];
    return;
  }
  if ((c >= 0x64b && c <= 0x65f) || c == 0x670 || c == 0x640) return;
  switch (c) {
    case 0x622:
    case 0x623:
    case 0x625:
    case 0x671:
      out += "\u0627";
      return;
    case 0x629:
      out += "\u0647";
      return;
    case 0x624:
      out += "\u0648";
      return;
    case 0x626:
      out += "\u064a";
      return;
    case 0x61b:
      out += ';';
      return;
    case 0x61f:
      out += '?';
      return;
    case 0x66b:
      out += '.';
      return;
    case 0x66c:
      out += ',';
      return;
    case 0x2018:
    case 0x2019:
    case 0x201b:
    case 0x2032:
    case 0xb4:
    case 0x60:
    case 0x2bc:
    case 0xff07:
      out += '\'';
      return;
    case 0x201c:
    case 0x201d:
    case 0x201e:
    case 0xab:
    case 0xbb:
      out += '"';
      return;
    default:
      put_plain(out, bytes, c);
  }
}

bool is_capital(char32_t c) {
  return (c >= 'A' && c <= 'Z') || (c >= 0xc0 && c <= 0xde && c != 0xd7) || (c >= 0x410 && c <= 0x42f);
}
bool is_letter(const std::string& f) {
  return !f.empty() && (is_small(f[0]) || static_cast<unsigned char>(f[0]) >= 0x80);
}

/// Digits for the letters that they are drawn like: "passw0rd".
std::string without_leet(std::string_view t) {
  std::string out(t);
  for (auto& c : out) {
    constexpr std::string_view digits = "013457", letters = "oleast";
    if (const auto at = digits.find(c); at != std::string_view::npos) c = letters[at];
  }
  return out;
}

struct Topic {
  int points = 0;
  Term reason;
};

/// One text. Each topic gathers points; three are enough.
class Reader {
 public:
  explicit Reader(std::vector<Word> w) : w_(std::move(w)) {
    for (const auto& x : w_) k_.push_back(x.form == Form::letters ? kinds_behind_prefixes(x.t) : 0);
    std::size_t capitals = 0, letters = 0;
    for (const auto& x : w_) {
      letters += x.form == Form::letters ? 1 : 0;
      capitals += x.form == Form::letters && (x.capital || x.shout) ? 1 : 0;
    }
    title_case_ = letters >= 3 && 2 * capitals > letters;
  }

  [[nodiscard]] Term reason() const {
    for (const Topic& t :
         {Topic{secret(), "it announces a secret (a code, a password, a pattern)"},
          Topic{person(), "it names a person"}, Topic{address(), "it looks like a street address"},
          Topic{birth(), "it holds a date of birth"}, Topic{contact(), "it says how somebody is reached"},
          Topic{identifier(), "it looks like a serial number or a document's number"},
          Topic{network(), "it looks like a network address"}})
      if (t.points >= 3) return t.reason;
    return {};
  }

 private:
  // ------------------------------------------------------------ looking around
  [[nodiscard]] bool has(std::size_t i, std::uint32_t kind) const {
    return i < k_.size() && (k_[i] & kind) != 0;
  }
  [[nodiscard]] bool is(std::size_t i, std::string_view t) const { return i < w_.size() && w_[i].t == t; }
  [[nodiscard]] bool form(std::size_t i, Form f) const { return i < w_.size() && w_[i].form == f; }
  [[nodiscard]] bool any_of(std::size_t i, std::initializer_list<std::string_view> all) const {
    return std::any_of(all.begin(), all.end(), [&](auto t) { return is(i, t); });
  }
  /// The next one that is no sign; `i` itself is left out. size() when there is none.
  [[nodiscard]] std::size_t next(std::size_t i) const {
    for (++i; i < w_.size() && w_[i].form == Form::sign; ++i) {
    }
    return i;
  }
  [[nodiscard]] std::size_t previous(std::size_t i) const {
    while (i-- > 0)
      if (w_[i].form != Form::sign) return i;
    return w_.size();
  }
  [[nodiscard]] bool near(std::size_t i, std::uint32_t kind, std::size_t before, std::size_t after) const {
    std::size_t at = i;
    for (; before > 0 && (at = previous(at)) < w_.size(); --before)
      if (has(at, kind)) return true;
    for (at = i; after > 0 && (at = next(at)) < w_.size(); --after)
      if (has(at, kind)) return true;
    return false;
  }
  /// A sign that says: here it comes.
  [[nodiscard]] bool colon(std::size_t i) const { return any_of(i, {":", "=", "\"", "->", ">"}); }
  [[nodiscard]] bool says(std::size_t i) const { return colon(i + 1) || has(i + 1, kIs); }
  [[nodiscard]] bool ends_clause(std::size_t i) const {
    return i >= w_.size() || any_of(i, {",", ".", ";", "!", "?", ")"});
  }

  // ------------------------------------------------------------ numbers
  /// Part of a quantity, a decimal number, a fraction, a time, a revision.
  [[nodiscard]] bool measured(std::size_t i) const {
    std::size_t end = i;
    while (end + 2 < w_.size() && w_[end + 1].form == Form::sign && !w_[end + 1].apart &&
           !w_[end + 2].apart && any_of(end + 1, {".", ",", "-", "/", ":"}) && form(end + 2, Form::digits) &&
           !is(end + 1, "-"))
      end += 2;
    if (any_of(end + 1, {"%", "°", "\"", "#", "+"}) || (has(end + 1, kUnit) && !is(end + 1, "of")))
      return true;
    return end > i && w_[i].t.size() < 3;
  }
  /// As typed for a secret: three to eight digits that are no quantity, or several single ones in a row.
  [[nodiscard]] bool secret_digits(std::size_t i) const {
    if (!form(i, Form::digits)) return false;
    if (w_[i].t.size() >= 3) return w_[i].t.size() <= 8 && !measured(i);
    std::size_t n = 0, at = i;
    for (; form(at, Form::digits) && w_[at].t.size() <= 2; ++n) {
      ++at;
      if (any_of(at, {"-", ".", ",", ">", "/", "*"})) ++at;
    }
    return n >= 3 && !has(at, kUnit);
  }
  [[nodiscard]] bool secret_digits_within(std::size_t i, std::size_t after) const {
    for (std::size_t at = i + 1; at < w_.size() && after > 0; ++at) {
      if (secret_digits(at)) return true;
      after -= w_[at].form == Form::sign ? 0 : 1;
    }
    return false;
  }
  [[nodiscard]] bool any_secret_digits() const {
    for (std::size_t i = 0; i < w_.size(); ++i)
      if (secret_digits(i)) return true;
    return false;
  }

  // ------------------------------------------------------------ secrets
  /// "asks for a password after restart", "password prompt frozen": what the phone shows, not the secret.
  [[nodiscard]] bool only_the_prompt(std::size_t i) const {
    std::size_t at = i + 1;
    const bool prompt = has(at, kPrompt), asked = near(i, kAsks, 3, 0);
    if (!prompt && !asked) return false;
    while (has(at, kPrompt)) ++at;
    if (colon(at)) return false;
    for (std::size_t k = i + 1; k < w_.size(); ++k)
      if (form(k, Form::mixed) || secret_digits(k) || colon(k)) return false;
    if (ends_clause(at)) return true;
    static constexpr std::array<std::string_view, 34> follows{
        "after",    "on",   "at",     "when", "every",    "again", "but",    "although", "and",
        "although", "does", "is",     "in",   "not",      "only",  "never",  "and",      "twice",
        "all",      "each", "nach",   "bei",  "jedes",    "immer", "obwohl", "im",       "am",
        "und",      "aber", "wieder", "geht", "reagiert", "بعد",   "عند"};
    return prompt || std::find(follows.begin(), follows.end(), w_[at].t) != follows.end();
  }

  /// "akkustecker", "ladekontakt"
  [[nodiscard]] bool connector_compound(std::size_t i) const {
    if (i >= w_.size()) return false;
    for (const std::string_view end :
         {"stecker", "buchse", "kontakt", "port", "sockel", "connector", "leiste"})
      if (w_[i].t.ends_with(end)) return true;
    return false;
  }
  /// "pin 3", "code 43": too short for a secret, and nothing else follows that could be one.
  [[nodiscard]] bool short_number(std::size_t i) const {
    return form(i + 1, Form::digits) && w_[i + 1].t.size() <= 2 && !secret_digits(i + 1) &&
           !any_secret_digits();
  }

  [[nodiscard]] int pin(std::size_t i) const {
    if (secret_digits_within(i, 3)) return 3;
    if (short_number(i)) return 0;
    if (near(i, kConnector, 4, 5) || connector_compound(previous(i))) return 0;
    if (any_of(i, {"pins"}) && !says(i)) return 0;
    if (any_of(i, {"بن", "البن", "بين"})) return 0;  // "bin": only with digits, or before a word for code
    return only_the_prompt(i) ? 0 : 3;
  }

  [[nodiscard]] int code(std::size_t i) const {
    const auto before = previous(i), after = i + 1;
    if (has(before, kUnlock | kLock | kPin | kSecret)) return 3;
    if (has(after, kLock | kUnlock | kPin | kSecret)) return 3;
    if (near(i, kCodeOfThings, 2, 2) || has(next(i), kCodeReader) || near(i, kCodeReader, 0, 3)) return 0;
    if (short_number(i)) return 0;
    return only_the_prompt(i) ? 0 : 3;
  }

  [[nodiscard]] int pattern(std::size_t i) const {
    const auto before = previous(i), after = next(i);
    int points = 0;
    if (has(before, kUnlock | kLock) || has(i + 1, kLock | kUnlock)) points += 3;
    if (any_of(before,
               {"swipe", "drawing", "draw", "her", "his", "their", "cust", "customers", "security", "wisch"}))
      points += 3;
    if (says(i)) points += 3;
    if (after < w_.size() && form(after, Form::digits) && secret_digits(after)) points += 3;
    if (after < w_.size() && form(after, Form::letters) && w_[after].t.size() == 1 &&
        !any_of(after, {"a", "i", "x"}))
      points += 3;  // "L", "Z"
    if (any_of(after, {"like", "shape", "from", "wie", "von"})) points += 2;
    if (any_of(after, {"حرف", "على"}) || any_of(next(after), {"حرف", "شكل"})) points += 3;
    if (w_.size() <= 2) points += 3;
    if (any_of(after, {"shaped", "top", "bottom"})) points += 1;
    if (near(i, kPatternOfThings, 2, 4)) points -= 3;
    if (any_of(after,
               {"of", "on", "across", "when", "in", "aus", "auf", "im", "visible", "appears", "shows"}))
      points -= 2;
    return points;
  }

  [[nodiscard]] int unlock(std::size_t i) const {
    const auto by = i + 1;
    if (secret_digits_within(i, 4)) return 3;
    if (any_of(i, {"open", "opens", "oeffnen", "oeffnet", "فتح", "الفتح", "لفتح", "افتح", "يفتح", "تفتح"})) {
      return any_of(i, {"opens"}) && has(by, kWith) && any_secret_digits() ? 3 : 0;
    }
    if (colon(by) || (has(by, kIs) && form(by + 1, Form::digits))) return 3;
    for (std::size_t at = i, n = 4; n > 0 && (at = previous(at)) < w_.size(); --n)
      if (any_of(at, {"draw", "drawing", "zeichnen", "zeichne", "malen", "wischen"})) return 3;
    for (std::size_t at = by; at < by + 3; ++at)
      if (has(at, kWith) && !near(at, kBody, 3, 3)) {
        const auto what = next(at);
        if (what < w_.size()) return 3;
      }
    if (w_.size() == 1) return 3;
    // "4455 to unlock"
    for (std::size_t at = i, n = 4; n > 0 && (at = previous(at)) < w_.size(); --n)
      if (secret_digits(at)) return 3;
    return 0;
  }

  [[nodiscard]] int secret() const {
    int most = 0, digits_said = 0;
    for (std::size_t i = 0; i < w_.size(); ++i) {
      if (form(i, Form::mixed)) {
        most = std::max(most, mixed_secret(w_[i].t));
        digits_said = 0;
        continue;
      }
      if (!form(i, Form::letters)) continue;
      if (has(i, kNumberWord))
        ++digits_said;
      else if (!any_of(i, {"double", "triple", "doppel", "und", "and"}))
        digits_said = 0;
      if (digits_said >= 4) return 3;
      if (has(i, kSecret) || nearly_secret(w_[i].t)) most = std::max(most, secret_word(i));
      if (has(i, kPin)) most = std::max(most, pin(i));
      if (has(i, kCode)) most = std::max(most, code(i));
      if (has(i, kPattern)) most = std::max(most, pattern(i));
      if (has(i, kUnlock)) most = std::max(most, unlock(i));
      if (has(i, kLock) && secret_digits_within(i, 3)) most = 3;
      if (has(i, kLock) && w_.size() == 1) most = 3;
      if (has(i, kKey) && near(i, kWifi, 2, 0)) most = 3;
      if (typed(i) || announced_shortly(i) || compound_secret(i)) most = 3;
    }
    // "4711" and nothing else
    if (w_.size() == 1 && form(0, Form::digits) && w_[0].t.size() >= 4) most = 3;
    return std::max(most, spelled_secret());
  }

  /// "enter 3579", "2468 eingeben"
  [[nodiscard]] bool typed(std::size_t i) const {
    if (!any_of(i, {"enter", "type", "typing", "entering", "eingeben", "eintippen", "tippen", "ادخل", "اكتب",
                    "ادخال"}))
      return false;
    if (secret_digits_within(i, 2)) return true;
    for (std::size_t at = i, n = 2; n > 0 && (at = previous(at)) < w_.size(); --n)
      if (secret_digits(at)) return true;
    return false;
  }
  /// Short forms that are secrets only before a colon: "pass: tulip", "p/w: tulip"; and "p.w." anywhere.
  [[nodiscard]] bool announced_shortly(std::size_t i) const {
    if (is(i, "pass") && colon(i + 1)) return !any_of(i + 2, {"ok", "yes", "no", "all", "none"});
    if (is(i, "pass") && any_of(i + 1, {"is", "word", "phrase"})) return true;
    if (is(i, "p") && any_of(i + 1, {"/", "."}) && is(i + 2, "w") && !w_[i + 2].apart) return true;
    if (is(i, "security") && any_of(i + 1, {"answer", "question"})) return true;
    return is(i, "سر") && any_of(previous(i), {"كلمه", "كلمات", "رقم", "رمز"});
  }
  /// German puts the words together: "sicherheitscode", "handypasswort", "zeichenmuster: Z".
  [[nodiscard]] bool compound_secret(std::size_t i) const {
    const std::string_view t = w_[i].t;
    const auto head = [&](std::string_view end) {
      return t.size() >= end.size() + 3 && t.ends_with(end) ? t.substr(0, t.size() - end.size())
                                                            : std::string_view();
    };
    for (const std::string_view end : {"passwort", "password", "kennwort"})
      if (!head(end).empty()) return !only_the_prompt(i);
    if (const auto h = head("code"); !h.empty())
      return (kinds(h) & kCodeOfThings) == 0 && (k_[i] & kCodeOfThings) == 0 &&
             (kinds(h.substr(0, h.size() - 1)) & kCodeOfThings) == 0 && !short_number(i);
    if (!head("pin").empty()) return secret_digits_within(i, 3);
    if (!head("muster").empty())
      return says(i) || secret_digits_within(i, 1) || (form(i + 1, Form::letters) && w_[i + 1].t.size() == 1);
    return false;
  }

  [[nodiscard]] int secret_word(std::size_t i) const {
    // The Arabic words mean "secret" by themselves; "the traffic" and the like need their first half.
    if (any_of(i, {"المرور", "سري"}) && !near(i, kCode, 2, 0) &&
        !any_of(previous(i), {"كلمه", "رقم", "كلمات"}))
      return 0;
    return only_the_prompt(i) ? 0 : 3;
  }

  /// "pin4711", "code0815", "passw0rd"
  [[nodiscard]] static int mixed_secret(std::string_view t) {
    std::size_t letters = 0;
    while (letters < t.size() && !is_digit(t[letters])) ++letters;
    const bool digits_only_behind =
        std::all_of(t.begin() + static_cast<std::ptrdiff_t>(letters), t.end(), is_digit);
    if (letters >= 2 && digits_only_behind && t.size() - letters >= 3 &&
        (kinds(t.substr(0, letters)) & (kSecret | kPin | kCode | kPattern | kUnlock)) != 0)
      return 3;
    if (letters >= 2 && (kinds(t.substr(0, letters)) & kSecret) != 0 && t.size() - letters >= 2) return 3;
    return t.size() >= 6 && (kinds(without_leet(t)) & kSecret) != 0 ? 3 : 0;
  }

  /// "P I N", "p.i.n"
  [[nodiscard]] int spelled_secret() const {
    std::string run;
    const auto secret = [&] { return run.size() >= 3 && (kinds(run) & (kSecret | kPin)) != 0; };
    for (std::size_t i = 0; i < w_.size(); ++i) {
      if (form(i, Form::letters) && w_[i].t.size() == 1)
        run += w_[i].t;
      else if (!any_of(i, {".", "-", "*", "_"})) {
        if (secret()) return 3;
        run.clear();
      }
    }
    return secret() ? 3 : 0;
  }

  // ------------------------------------------------------------ persons
  /// "anna's": 's is glued behind `i`.
  [[nodiscard]] bool possessive(std::size_t i) const {
    return is(i + 1, "'") && !w_[i + 1].apart && is(i + 2, "s") && !w_[i + 2].apart;
  }
  /// `i` is a name with the genitive's s: "annas", "bobs".
  [[nodiscard]] bool genitive(std::size_t i) const {
    const auto& t = w_[i].t;
    if (k_[i] != 0 || t.size() < 4 || t.back() != 's') return false;
    const auto stem = kinds(std::string_view(t).substr(0, t.size() - 1));
    return (stem & kName) != 0 || ((stem & kMaybeName) != 0 && has(i + 1, kPhone) && w_[i].capital);
  }
  /// A word that may well be a name: it is on a list, or it begins with a capital where others do not.
  [[nodiscard]] bool like_name(std::size_t i) const {
    return has(i, kName | kMaybeName) ||
           (form(i, Form::letters) && w_[i].capital && !title_case_ && k_[i] == 0);
  }
  [[nodiscard]] bool somebody(std::size_t i) const {
    return form(i, Form::letters) && w_[i].t.size() > 1 && !has(i, kNobody);
  }
  /// Skips "is", ":", "=", "the", "'s".
  [[nodiscard]] std::size_t told(std::size_t i) const {
    for (++i; i < w_.size() &&
              (w_[i].form == Form::sign || has(i, kIs) || any_of(i, {"s", "to", "zu", "dem", "der"}));
         ++i)
      if (ends_clause(i) && !is(i, ".")) return w_.size();
    return i;
  }

  [[nodiscard]] int named(std::size_t i) const {
    const auto after = i + 1, before = previous(i);
    if (has(i, kName)) {
      // "Jordan" and "jordan" alike: nobody needs a given name in the description of a fault.
      return 3;
    }
    if (genitive(i)) return 3;
    if (possessive(i) && has(i + 3, kPhone) && !has(i, kNobody | kPhone)) return 3;
    if (has(i, kMaybeName)) {
      if (possessive(i) && (w_[i].capital || has(i + 3, kPhone))) return 3;
      if (has(before, kBelongs | kHonorific)) return 3;
      if (has(before, kGreeting) && (w_[i].capital || ends_clause(after))) return 3;
      if (has(before, kCall) && before + 1 == i &&
          (ends_clause(after) ||
           any_of(after, {"when", "before", "after", "if", "wenn", "vor", "nach", "anrufen", "عند"})))
        return 3;
      if (any_of(before, {"for", "from", "von", "fuer", "to", "an", "bei", "with", "mit", "لـ"}) &&
          w_[i].capital && !title_case_ && ends_clause(after) && before + 1 == i && !german_)
        return 3;
      if (has(before, kPhone) && before + 1 == i && arabic(i) &&
          any_of(before, {"هاتف", "جوال", "موبايل", "تلفون", "محمول", "تليفون"}) &&
          !any_of(i, {"كامل", "سليم", "نادر", "جميل", "عادل", "صالح", "نور"}))
        return 3;
      const auto verb = any_of(before, {"على", "عن", "مع"}) ? previous(before) : before;
      const bool adjective = any_of(
          i, {"سعيد", "كامل", "سليم", "نادر", "جميل", "عادل", "صالح", "نور", "امين", "عزيز", "هيا", "باسم"});
      if (verb >= w_.size() || !arabic(verb)) return 0;
      if (arabic(i) && has(verb, kCall)) return 3;
      if (arabic(i) && !adjective &&
          (has(verb, kCustomer) || (has(verb, kPhone | kTelephone) && has(previous(verb), kCustomer))))
        return 3;
    }
    return 0;
  }
  [[nodiscard]] bool arabic(std::size_t i) const {
    return !w_[i].t.empty() && static_cast<unsigned char>(w_[i].t[0]) >= 0xd8 &&
           static_cast<unsigned char>(w_[i].t[0]) <= 0xdb;
  }

  [[nodiscard]] int honoured(std::size_t i) const {
    const bool dot = is(i + 1, ".") && !w_[i + 1].apart;
    const auto who = dot ? i + 2 : i + 1;
    if (!form(who, Form::letters) || has(who, kNobody)) return 0;
    if (any_of(i, {"fr", "hr", "ms", "sir", "ام", "ابو", "miss", "prof", "madam"})) {
      if (form(previous(i), Form::digits)) return 0;  // "50 ms"
      if (any_of(i, {"ام", "ابو"})) return has(who, kName | kMaybeName) ? 3 : 0;
      return (w_[who].capital || has(who, kName)) && (w_[i].capital || dot) && w_[who].t.size() > 2 ? 3 : 0;
    }
    return 3;
  }

  [[nodiscard]] int person() const {
    for (std::size_t i = 0; i < w_.size(); ++i) {
      if (!form(i, Form::letters)) continue;
      if (named(i) >= 3) return 3;
      if (has(i, kHonorific) && honoured(i) >= 3) return 3;
      const auto who = told(i);
      if (has(i, kBelongs) && somebody(who) && (like_name(who) || !arabic(who)) &&
          !has(who, kPhone | kConnector))
        return 3;
      if (has(i, kNameWord) &&
          (says(i) ||
           (has(previous(i), kCustomer) ||
            any_of(previous(i), {"his", "her", "their", "my", "your", "last", "first", "full", "der", "mein",
                                 "ihr", "sein"})) ||
           w_.size() == 1 || arabic(i)) &&
          !has(previous(i), kWifi) && !has(i + 1, kWifi | kCodeOfThings) &&
          !any_of(i + 1, {"ملف", "جهاز", "الملف", "الملفات"}))
        return named_after(i);
      if (has(i, kNameWord) && has(i + 1, kName | kMaybeName) && ends_clause(i + 2)) return 3;
      if (has(i, kNameWord) && !arabic(i))
        for (std::size_t at = i + 1; at < i + 4; ++at)
          if (is(at, ":") && form(at + 1, Form::letters)) return 3;
      if (has(i, kCustomer) && customer_named(i)) return 3;
      if (any_of(i, {"heisst", "called"}) && has(previous(i), kCustomer) && somebody(i + 1)) return 3;
      // "phone of Quillon", "Telefon von Quillon"
      if (has(i, kPhone) && any_of(i + 1, {"of", "von"}) && somebody(i + 2) && w_[i + 2].capital &&
          k_[i + 2] == 0)
        return 3;
      // "call Quillon when ready"
      if (has(i, kCall) && i + 1 < w_.size() && w_[i + 1].apart) {
        const auto whom =
            any_of(i + 1, {"for", "to", "by", "up", "nach", "bei", "durch", "على", "عن"}) ? i + 2 : i + 1;
        if (unknown_capital(whom) && goes_on_as_a_request(whom + 1)) return 3;
      }
      if (any_of(i, {"im", "am", "is", "its", "bin", "ist"}) && near(i, kGreeting, 3, 0) &&
          like_name(i + 1) && w_[i + 1].capital)
        return 3;
    }
    return 0;
  }
  /// A word on no list that begins with a capital where neither German nor a headline puts one.
  [[nodiscard]] bool unknown_capital(std::size_t i) const {
    return form(i, Form::letters) && w_[i].capital && k_[i] == 0 && !title_case_ && !german_;
  }
  /// What follows the person in "call ... when ready".
  [[nodiscard]] bool goes_on_as_a_request(std::size_t i) const {
    return ends_clause(i) ||
           any_of(i, {"once", "before", "if", "asap", "about", "today", "tomorrow", "please", "pls", "first",
                      "wenn", "sobald", "and"}) ||
           (is(i, "when") && any_of(i + 1, {"ready", "done", "fixed", "finished", "it", "repaired"}));
  }
  /// What a person does at a counter.
  [[nodiscard]] bool does(std::size_t i) const {
    return any_of(i, {"wants", "waits", "called", "said", "says", "asked", "asks", "picks", "collects",
                      "comes", "will", "needs", "brought", "paid", "pays", "left"});
  }
  [[nodiscard]] int named_after(std::size_t i) const {
    const auto who = told(i);
    if (w_.size() == 1) return 3;
    return form(who, Form::letters) && !any_of(who, {"not", "missing", "wrong", "shown", "nicht", "fehlt"})
               ? 3
               : 0;
  }
  [[nodiscard]] bool customer_named(std::size_t i) const {
    if (is(i + 1, ":") && somebody(i + 2) && w_[i + 2].capital) return true;
    const auto who = any_of(i + 1, {"is", "was"}) && any_of(i + 2, {"called", "named"}) ? i + 3 : i + 1;
    if (unknown_capital(who) && w_[who].apart &&
        (who > i + 1 || ends_clause(who + 1) || goes_on_as_a_request(who + 1) || does(who + 1)))
      return true;
    if (any_of(i + 1, {"is", "ist", "heisst", "="}) && form(i + 2, Form::letters) && w_[i + 2].capital &&
        k_[i + 2] == 0 && (!german_ || is(i + 1, "heisst")))
      return true;
    return any_of(i, {"kunde", "kundin", "kd", "customer", "cust", "owner"}) && form(i + 1, Form::letters) &&
           form(i + 2, Form::letters) && w_[i + 1].capital && w_[i + 2].capital && !title_case_ &&
           !has(i + 2, kNobody) && k_[i + 1] == 0 && !german_;
  }

  // ------------------------------------------------------------ addresses
  [[nodiscard]] bool house_number(std::size_t i) const {
    if (form(i, Form::digits)) return w_[i].t.size() <= 4 && !measured(i) && !has(next(i), kUnit);
    if (!form(i, Form::mixed) || w_[i].t.size() > 5 || !is_digit(w_[i].t[0])) return false;
    const auto letter = w_[i].t.find_first_not_of("0123456789");
    return letter + 1 == w_[i].t.size() && w_[i].t.back() >= 'a' && w_[i].t.back() <= 'k';
  }
  static bool has_unit_tail(std::string_view t) {
    std::size_t n = 0;
    while (n < t.size() && is_digit(t[n])) ++n;
    return (kinds(t.substr(n)) & kUnit) != 0;
  }
  /// "lindenweg": a street by the end of the word, in German.
  [[nodiscard]] static bool street_by_its_end(std::string_view t) {
    static constexpr std::array<std::string_view, 14> not_streets{
        "steckplatz", "speicherplatz", "arbeitsplatz", "sitzplatz", "einbauplatz", "dichtring", "sprengring",
        "gummiring",  "haltering",     "zierring",     "federweg",  "hinweg",      "tastenweg", "hubweg"};
    if (std::find(not_streets.begin(), not_streets.end(), t) != not_streets.end()) return false;
    for (const std::string_view end : {"strasse", "str", "gasse", "allee", "platz", "weg", "damm", "ufer",
                                       "steig", "chaussee", "promenade", "stieg", "winkel", "graben"})
      if (t.size() >= end.size() + 3 && t.ends_with(end) && !(end == "winkel" && t.size() < 10)) return true;
    return false;
  }

  [[nodiscard]] int address() const {
    for (std::size_t i = 0; i < w_.size(); ++i) {
      if (form(i, Form::sign)) continue;
      const auto& t = w_[i].t;
      if (has(i, kStreet) && street(i)) return 3;
      if (form(i, Form::letters) && street_by_its_end(t)) {
        const auto n = is(i + 1, ".") ? i + 2 : i + 1;
        if (house_number(n)) return 3;
      }
      if (any_of(i, {"rue", "calle"}) && (house_number(previous(i)) || number_before(i, false))) return 3;
      if (any_of(i, {"gasse", "platz", "allee", "weg", "markt", "ring", "damm", "ufer"}) && w_[i].capital &&
          i > 0 && house_number(i + 1) && (ends_clause(i + 2)))
        return 3;
      if (any_of(i, {"row", "way", "close", "place", "drive", "dr", "court", "ct", "square", "gardens",
                     "grove", "hill", "mews", "walk", "park", "green"}) &&
          w_[i].capital && !title_case_from(i) && number_before(i, true))
        return 3;
      if (any_of(i, {"apt", "apartment", "appartment", "wohnung", "whg", "شقه", "بنايه", "عماره"}) &&
          (form(next(i), Form::digits) || form(next(i), Form::mixed)))
        return 3;
      if (is(i, "flat") && house_number(i + 1) && (ends_clause(i + 2) || w_.size() <= i + 3)) return 3;
      if (any_of(i, {"شارع", "زقاق"}) && form(i + 1, Form::letters)) return 3;
      if (any_of(i, {"حي", "طريق"}) && form(i + 1, Form::letters) && numbers() > 0) return 3;
      if (any_of(i, {"wohnt", "wohnhaft", "adresse", "anschrift", "lives", "living", "residing", "يسكن",
                     "العنوان", "عنوان", "ساكن"}) &&
          (any_of(i + 1, {"at", "in", "am", "an", "im", "bei", ":", "on", "في"}) || is(i + 2, ":") ||
           numbers() > 0))
        return 3;
      if (is(i, "address") &&
          (says(i) || form(i + 1, Form::digits) ||
           any_of(previous(i), {"home", "her", "his", "customer", "delivery", "postal", "street"})))
        return 3;
      if (is(i, "box") && any_of(previous(i), {"po", "o"}) && form(i + 1, Form::digits)) return 3;
      if (any_of(i, {"postfach", "postcode", "zipcode", "plz", "postleitzahl", "eircode"}) && numbers() > 0)
        return 3;
      if (is(i, "zip") && form(next(i), Form::digits)) return 3;
      if (form(i, Form::mixed) && uk_postcode(i)) return 3;
      // "am Markt 3", "bei Meier": only beside another sign of an address
      if (form(i, Form::digits) && t.size() == 5 && w_.size() > i + 1 && w_[i + 1].capital &&
          k_[i + 1] == 0 && german_words_after(i + 1))
        return 3;
    }
    return 0;
  }
  [[nodiscard]] std::size_t numbers() const {
    return static_cast<std::size_t>(std::count_if(
        w_.begin(), w_.end(), [](const Word& x) { return x.form == Form::digits || x.form == Form::mixed; }));
  }
  [[nodiscard]] bool title_case_from(std::size_t) const { return false; }
  [[nodiscard]] bool number_before(std::size_t i, bool capitals) const {
    for (std::size_t n = 0; n < 4 && i > 0; ++n) {
      --i;
      if (house_number(i)) return n > 0;
      if (!form(i, Form::letters) || has(i, kUnit) || (capitals && !w_[i].capital)) return false;
    }
    return false;
  }
  [[nodiscard]] bool street(std::size_t i) const {
    if (number_before(i, false)) return true;
    const auto n = is(i + 1, ".") ? i + 2 : i + 1;
    return i > 0 && form(i - 1, Form::letters) && !has(i - 1, kNobody) && house_number(n) && w_[i].t != "st";
  }
  /// "SW1A 9ZZ"
  [[nodiscard]] bool uk_postcode(std::size_t i) const {
    const auto& a = w_[i].t;
    if (!form(i + 1, Form::mixed) || !w_[i].shout || !w_[i + 1].shout) return false;
    const auto& b = w_[i + 1].t;
    return b.size() == 3 && is_digit(b[0]) && is_small(b[1]) && is_small(b[2]) && a.size() >= 2 &&
           a.size() <= 4 && is_small(a[0]);
  }
  /// "10115 Neustadt, Ahornweg": a town follows, then the end or a comma.
  [[nodiscard]] bool german_words_after(std::size_t i) const { return ends_clause(i + 1) && w_.size() <= 3; }

  // ------------------------------------------------------------ birth, contact, identifiers
  [[nodiscard]] int birth() const {
    for (std::size_t i = 0; i < w_.size(); ++i) {
      if (any_of(i, {"dob", "born", "geb", "geboren", "geburtsdatum", "birthdate", "مواليد", "الميلاد",
                     "ميلاد", "ميلاده"}))
        return 3;
      if (any_of(i, {"birthday", "geburtstag"}) && numbers() > 0) return 3;
      if (is(i, "birth") && is(previous(i), "of")) return 3;
      if (is(i, "d") && is(i + 1, ".") && any_of(i + 2, {"o"}) && is(i + 3, ".") && is(i + 4, "b")) return 3;
      if (old_date(i)) return 3;
    }
    return 0;
  }
  /// A day before any phone of this kind was made: of a person, then.
  [[nodiscard]] bool old_date(std::size_t i) const {
    static constexpr std::array<std::string_view, 31> months{
        "january",   "february", "march",    "april",    "may",  "june",    "july",    "august",
        "september", "october",  "november", "december", "jan",  "feb",     "mar",     "apr",
        "jun",       "jul",      "aug",      "sep",      "oct",  "nov",     "dec",     "januar",
        "februar",   "maerz",    "mai",      "juni",     "juli", "oktober", "dezember"};
    if (std::find(months.begin(), months.end(), w_[i].t) != months.end())
      for (std::size_t at = i + 1; at < w_.size() && at <= i + 4; ++at)
        if (form(at, Form::digits) && w_[at].t.size() == 4 && w_[at].t >= "1900" && w_[at].t <= "2012")
          return true;
    const auto number = [&](std::size_t k) {
      return form(k, Form::digits) && w_[k].t.size() <= 4 ? std::stoi(w_[k].t) : -1;
    };
    const auto year = [&](std::size_t k) { return number(k) >= 1900 && number(k) <= 2012; };
    const auto small = [&](std::size_t k, int most) { return number(k) >= 1 && number(k) <= most; };
    if (!any_of(i + 1, {"-", ".", "/"}) || !is(i + 3, i + 1 < w_.size() ? std::string_view(w_[i + 1].t) : ""))
      return false;
    return (year(i) && small(i + 2, 12) && small(i + 4, 31)) ||
           (small(i, 31) && small(i + 2, 31) && year(i + 4));
  }

  [[nodiscard]] std::size_t digits_from(std::size_t i) const {
    std::size_t n = 0;
    for (; i < w_.size(); ++i) {
      if (form(i, Form::digits) && !has(i + 1, kUnit) && !is(i + 1, "%"))
        n += w_[i].t.size();
      else if (w_[i].form != Form::sign || ends_clause(i))
        break;
    }
    return n;
  }

  [[nodiscard]] int contact() const {
    for (std::size_t i = 0; i < w_.size(); ++i) {
      if (form(i, Form::digits) && w_[i].t.size() >= 7 && w_[i].t.size() <= 13) return 3;
      if (has(i, kTelephone) && said_number(i)) return 3;
      if (is(i, "@") && handle(i)) return 3;
      if (spelled_mail(i)) return 3;
      if (form(i, Form::letters) && domain(i)) return 3;
    }
    return 0;
  }
  /// "2025-11-20", "20.11.25"
  [[nodiscard]] bool date(std::size_t i) const {
    if (!any_of(i + 1, {"-", ".", "/"}) || i + 4 >= w_.size() || w_[i + 3].t != w_[i + 1].t) return false;
    const auto size = [&](std::size_t k) { return form(k, Form::digits) ? w_[k].t.size() : 9; };
    return (size(i) == 4 && size(i + 2) <= 2 && size(i + 4) <= 2 && w_[i].t.starts_with("20")) ||
           (size(i) <= 2 && size(i + 2) <= 2 && (size(i + 4) == 2 || size(i + 4) == 4) &&
            std::stoi(w_[i].t) <= 31 && std::stoi(w_[i + 2].t) <= 12 && !is(i + 5, "-") && !is(i + 5, "."));
  }
  [[nodiscard]] bool said_number(std::size_t i) const {
    std::size_t at = i + 1;
    for (std::size_t n = 0; at < w_.size() && n < 4 && !form(at, Form::digits); ++at, ++n)
      if (is(at, ",") || has(at, kCodeOfThings)) return false;
    if (!form(at, Form::digits)) return false;
    if (date(at)) return false;
    const auto n = digits_from(at);
    return n >= 6 && n <= 15 && !measured(at);
  }
  /// "@anna99", but not "@hinge"
  [[nodiscard]] bool handle(std::size_t i) const {
    if (i + 1 >= w_.size() || w_[i + 1].apart || form(i + 1, Form::sign)) return false;
    const bool longer = i + 2 < w_.size() && any_of(i + 2, {"_", ".", "-"}) && !w_[i + 2].apart;
    static constexpr std::array<std::string_view, 24> places{
        "hinge", "fold", "top",  "bottom",    "left", "right",  "corner", "edge",
        "the",   "usb",  "port", "camera",    "cam",  "crease", "frame",  "screen",
        "full",  "low",  "max",  "scharnier", "falz", "oben",   "unten",  "ecke"};
    if (form(i + 1, Form::digits) || is_digit(w_[i + 1].t[0])) return false;
    return longer || std::find(places.begin(), places.end(), w_[i + 1].t) == places.end();
  }
  /// "anna at example dot org", "anna ät beispiel punkt de"
  [[nodiscard]] bool spelled_mail(std::size_t i) const {
    const bool sure = any_of(i, {"aet", "klammeraffe", "arroba"});
    if (!sure && !any_of(i, {"at", "@", "a", "bei"})) return false;
    if (i == 0) return false;
    for (std::size_t at = i + 1; at < w_.size() && at < i + 8; ++at) {
      if (any_of(at, {",", ";"})) break;
      const bool dot = any_of(at, {"dot", "punkt", "point", "نقطه"});
      if (dot && at > i + 1 && has(at + 1, kTop)) return true;
      if (dot && sure) return true;
      if (dot && at == i + 2 && form(at + 1, Form::letters) && w_[at + 1].t.size() <= 4 &&
          ends_clause(at + 2) && !is(i, "a"))
        return true;
    }
    return false;
  }
  /// "example.org": the dot glued on both sides.
  [[nodiscard]] bool domain(std::size_t i) const {
    return w_[i].t.size() >= 2 && is(i + 1, ".") && !w_[i + 1].apart && i + 2 < w_.size() &&
           !w_[i + 2].apart && has(i + 2, kTop) && !is(i + 3, "_") && !any_of(i + 2, {"es", "it", "test"}) &&
           !is(i, "z");
  }

  [[nodiscard]] int identifier() const {
    for (std::size_t i = 0; i < w_.size(); ++i) {
      if (form(i, Form::mixed) && serial(i)) return 3;
      if (serial_word(i)) {
        std::size_t at = i + 1;
        for (std::size_t n = 0; at < w_.size() && n < 4; ++at, ++n)
          if (length_in_pieces(at) >= 5) return 3;
      }
      if (any_of(i, {"passport", "reisepass", "personalausweis", "ausweisnummer", "iban", "kennzeichen",
                     "licence", "license", "جواز", "الهويه", "هويه"}) &&
          numbers() > 0)
        return 3;
      if (any_of(i, {"plate", "plates"}) && form(i + 1, Form::letters) && is(i + 2, "-") &&
          form(i + 3, Form::letters) && form(i + 4, Form::digits))
        return 3;
      if (any_of(i, {"plate", "plates"}) && any_of(previous(i), {"number", "car", "reg"}) && numbers() > 0)
        return 3;
      if (any_of(i, {"card", "karte", "kreditkarte", "iban", "konto"}) && digits_from(i + 1) >= 8) return 3;
    }
    return 0;
  }
  /// Characters of "RF8N-12AB-CDE3"; 0 when there is no digit in it.
  [[nodiscard]] std::size_t length_in_pieces(std::size_t i) const {
    std::size_t n = 0;
    bool digits = false;
    for (std::size_t at = i; at < w_.size(); ++at) {
      if (w_[at].form == Form::sign) {
        if (!any_of(at, {"-", "/", ".", "_"}) || w_[at].apart) break;
        continue;
      }
      if (at > i && w_[at].apart) break;
      digits = digits || w_[at].form != Form::letters;
      n += w_[at].t.size();
    }
    return digits ? n : 0;
  }
  [[nodiscard]] bool serial_word(std::size_t i) const {
    if (any_of(i, {"serial", "serials", "sn", "imei", "meid", "esn", "eid", "iccid", "imsi", "seriennummer",
                   "seriennr", "serien", "ser", "التسلسلي", "تسلسلي", "udid"}))
      return true;
    return is(i, "s") && any_of(i + 1, {"/"}) && is(i + 2, "n");
  }
  /// Mixed as serial numbers are: from eight characters on, three digits, two letters, turns between them; a
  /// quantity with its unit and a hexadecimal number with its 0x are none.
  [[nodiscard]] bool serial(std::size_t i) const {
    const auto& t = w_[i].t;
    std::size_t digits = 0, turns = 0;
    for (std::size_t k = 0; k < t.size(); ++k) {
      digits += is_digit(t[k]) ? 1 : 0;
      turns += k > 0 && is_digit(t[k]) != is_digit(t[k - 1]) ? 1 : 0;
    }
    const auto letters = t.size() - digits;
    if (t.starts_with("0x") && t.size() <= 10) return false;
    if (turns == 1 && is_digit(t[0]) && has_unit_tail(t)) return false;
    if (turns == 1) return digits >= 6 && letters >= 2;
    return t.size() >= 8 && digits >= 3 && letters >= 2 && !quantity_pair(t);
  }
  /// "4k60fps", "3h20min"
  static bool quantity_pair(std::string_view t) {
    std::size_t n = 0;
    while (n < t.size() && is_digit(t[n])) ++n;
    std::size_t m = n;
    while (m < t.size() && !is_digit(t[m])) ++m;
    const auto unit = t.substr(n, m - n);
    return n > 0 && ((kinds(unit) & kUnit) != 0 || unit == "k") && has_unit_tail(t.substr(m));
  }

  [[nodiscard]] int network() const {
    for (std::size_t i = 0; i + 6 < w_.size(); ++i) {
      bool fits = true;
      for (std::size_t k = 0; fits && k < 7; ++k)
        fits = k % 2 == 1
                   ? is(i + k, ".")
                   : form(i + k, Form::digits) && w_[i + k].t.size() <= 3 && std::stoi(w_[i + k].t) <= 255;
      for (std::size_t k = 1; fits && k < 7; ++k) fits = !w_[i + k].apart;
      if (fits) return 3;
    }
    // "001a.2b3c.4d5e": a hardware address in three pieces
    for (std::size_t i = 0; i + 4 < w_.size(); ++i) {
      bool fits = true, mixed = false;
      for (std::size_t k = 0; fits && k < 5; ++k) {
        fits = k % 2 == 1 ? is(i + k, ".")
                          : w_[i + k].t.size() == 4 &&
                                w_[i + k].t.find_first_not_of("0123456789abcdef") == std::string::npos;
        fits = fits && (k == 0 || !w_[i + k].apart);
        mixed = mixed || form(i + k, Form::mixed);
      }
      if (fits && mixed) return 3;
    }
    // RFC 4291 section 2.2: groups of hexadecimal digits between colons, at least one of them "::"
    std::size_t groups = 0, colons = 0;
    bool twice = false, letters = false;
    for (std::size_t i = 0; i <= w_.size(); ++i) {
      const bool colon = is(i, ":") && (groups > 0 || is(i + 1, ":"));
      const bool group = i < w_.size() && w_[i].form != Form::sign && w_[i].t.size() <= 4 &&
                         w_[i].t.find_first_not_of("0123456789abcdef") == std::string::npos &&
                         (colons == groups || groups == 0 || is(i - 1, ":"));
      if (colon && !(w_[i].apart && groups > 0)) {
        twice = twice || (i > 0 && is(i - 1, ":"));
        ++colons;
      } else if (group && (groups == 0 || (is(i - 1, ":") && !w_[i].apart))) {
        ++groups;
        letters = letters || form(i, Form::mixed) || form(i, Form::letters);
      } else {
        if (groups >= 3 && colons >= 2 && (twice || groups >= 6)) return 3;
        groups = group ? 1 : 0;
        colons = 0;
        twice = false;
      }
    }
    static_cast<void>(letters);
    return 0;
  }

  std::vector<Word> w_;
  std::vector<std::uint32_t> k_;
  bool title_case_ = false;
  bool german_ = false;

 public:
  /// German writes nouns with a capital: there a capital says nothing.
  void note_german(bool yes) { german_ = yes; }
};

/// Small words that German texts have and English ones do not.
bool looks_german(const std::vector<Word>& w) {
  static constexpr std::array<std::string_view, 46> small{
      "der",   "die",    "das",   "und",     "nicht", "ist",       "mit",        "nach",
      "beim",  "seit",   "im",    "kein",    "keine", "geht",      "auf",        "zu",
      "bei",   "von",    "vom",   "aus",     "nur",   "oder",      "wird",       "ein",
      "eine",  "noch",   "immer", "defekt",  "laedt", "kaputt",    "reagiert",   "gehoert",
      "kunde", "kundin", "bitte", "anrufen", "akku",  "scharnier", "bildschirm", "fuer",
      "holt",  "ab",     "sich",  "hat",     "wenn",  "ohne"};
  return std::any_of(w.begin(), w.end(),
                     [](const Word& x) { return std::find(small.begin(), small.end(), x.t) != small.end(); });
}
}  // namespace

std::string folded(std::string_view text) {
  std::string out;
  while (!text.empty()) {
    const auto r = read(text);
    fold(out, text.substr(0, r.length), r.c);
    text.remove_prefix(r.length);
  }
  return out;
}

std::vector<Word> words(std::string_view text) {
  std::vector<Word> out;
  bool open = false, apart = true, first_capital = false;
  std::size_t capitals = 0, letters = 0;
  const auto close = [&] {
    if (open && !out.empty()) {
      out.back().capital = first_capital && capitals == 1 && letters > 1;
      out.back().shout =
          letters > 0 && capitals == letters && (letters > 1 || out.back().form == Form::mixed);
    }
    open = false;
  };
  while (!text.empty()) {
    const auto r = read(text);
    std::string f;
    fold(f, text.substr(0, r.length), r.c);
    text.remove_prefix(r.length);
    if (f.empty()) continue;
    if (f == " " || f == "\t" || f == "\n") {
      close();
      apart = true;
      continue;
    }
    const bool digit = is_digit(f[0]),
               letter = is_letter(f) && !(r.c >= 0x2000 && r.c < 0x2c00) && r.c != 0xb0;
    if (!digit && !letter) {
      close();
      out.push_back({Form::sign, f, false, false, apart});
      apart = false;
      continue;
    }
    if (!open) {
      out.push_back({digit ? Form::digits : Form::letters, "", false, false, apart});
      open = true;
      first_capital = is_capital(r.c);
      capitals = letters = 0;
    }
    auto& w = out.back();
    if ((w.form == Form::digits && letter) || (w.form == Form::letters && digit)) w.form = Form::mixed;
    w.t += f;
    letters += letter ? 1 : 0;
    capitals += is_capital(r.c) ? 1 : 0;
    apart = false;
  }
  close();
  return out;
}

Term announced(std::string_view text) {
  auto w = words(text);
  const bool german = looks_german(w);
  Reader reader(std::move(w));
  reader.note_german(german);
  return reader.reason();
}
}  // namespace hb::detail
