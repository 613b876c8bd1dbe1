/// What the owner reads: the sheet's content in plain words, before any layout. PDF and HTML show the same
/// Story. Pure; any thread.
#pragma once

#include <string>
#include <vector>

#include "../sheet.hpp"
#include "language.hpp"
#include "view.hpp"

namespace hb::sheet {

/// `pointer`: the record's member (RFC 6901) that `value` shows as it is, or as a date; empty: none alone.
struct Fact {
  std::string label, value, note, pointer = {};
};
/// One whole sentence. What does not fit on the page is left out by sentences, never cut inside one; a `bad`
/// one says what is wrong and stays to the last.
struct Piece {
  Piece(std::string t, bool b = false) : text(std::move(t)), bad(b) {}  // NOLINT(google-explicit-constructor)
  Piece(const char* t) : text(t) {}                                     // NOLINT(google-explicit-constructor)
  std::string text;
  bool bad = false;
};
using Told = std::vector<Piece>;
/// At most `most` sentences, in their order; the bad ones are all kept. Joined by spaces.
[[nodiscard]] std::string said(const Told& told, std::size_t most = 1000);

struct Row {
  std::string title;
  Told says;
  Outcome outcome = Outcome::not_tested;
};
/// A titled remark: what a fail means, why something was not tested, one piece of care.
struct Remark {
  std::string title;
  Told says;
};
struct Story {
  std::string shop, contact, heading;
  std::string withdrawn;           ///< big, before all else; empty for a sheet that stands
  std::string demo_note;           ///< empty for a real run
  std::vector<std::string> notes;  ///< another phone, an earlier run, what was opened again between
  std::vector<Fact> facts;
  Outcome outcome = Outcome::not_tested;
  std::string headline, detail;
  std::vector<Row> rows;
  std::vector<Remark> attention;  ///< failed and marginal checks: what it means
  std::vector<Remark> untested;   ///< not tested or left out: why
  std::string agreed_title;       ///< "Parts fitted", or of a phone as it came what is to be done
  std::vector<PartView> parts;    ///< in this language
  std::vector<Fact> agreed;       ///< colour, repair, what was reported: label with {0} filled by `value`
  std::string care_title;
  std::vector<Remark> care;
  std::vector<std::string> privacy;  ///< short sentences
  std::string checking, key, program, command, ask;
  std::string ask_short;  ///< without the contact
  std::string more;       ///< "The shop has the measured details ...": behind what a fail means
};

/// `cure_time`: the shop's words, may be empty.
[[nodiscard]] Story tell(const View& view, const std::string& cure_time, const Standing& standing,
                         const Language& l);

/// Plain sentences on what a check measured, with one or two numbers a person understands.
[[nodiscard]] Told measured(const CheckView& check, const Language& l);
/// Why a check has no result, in the owner's words.
[[nodiscard]] std::string why_untested(const CheckView& check, const Language& l);
/// What a fail or marginal of this check means for the owner.
[[nodiscard]] Told meaning(const CheckView& check, const Language& l);
/// "the inner screen", "battery main", "camera wide": a part in the owner's words.
[[nodiscard]] std::string part_words(const CheckView& check, std::string_view part, const Language& l);

}  // namespace hb::sheet
