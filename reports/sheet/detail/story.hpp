/// What the owner reads: the sheet's content in plain words, before any layout. PDF and HTML show the same
/// Story. Pure; any thread.
#pragma once

#include <string>
#include <vector>

#include "language.hpp"
#include "view.hpp"

namespace hb::sheet {

/// `pointer`: the record's member (RFC 6901) that `value` shows as it is, or as a date; empty: none alone.
struct Fact {
  std::string label, value, note, pointer = {};
};
struct Row {
  std::string title, says;
  Outcome outcome = Outcome::not_tested;
};
/// A titled remark: what a fail means, why something was not tested, one piece of care.
struct Remark {
  std::string title, says;
};
struct Story {
  std::string shop, contact, heading;
  std::string demo_note;  ///< empty for a real run
  std::vector<Fact> facts;
  Outcome outcome = Outcome::not_tested;
  std::string headline, detail;
  std::vector<Row> rows;
  std::vector<Remark> attention;  ///< failed and marginal checks: what it means
  std::vector<Remark> untested;   ///< not tested or left out: why
  std::vector<PartView> parts;
  std::string colour;
  std::vector<Remark> care;
  std::string privacy, checking, command, key, ask;
  std::string more;  ///< "The shop has the measured details ...": behind what a fail means
};

/// `cure_time`: the shop's words, may be empty.
[[nodiscard]] Story tell(const View& view, const std::string& cure_time, const Language& l);

/// One plain sentence on what a check measured, with one or two numbers a person understands.
[[nodiscard]] std::string measured(const CheckView& check, const Language& l);
/// What a fail or marginal of this check means for the owner.
[[nodiscard]] std::string meaning(const CheckView& check, const Language& l);
/// "the inner screen", "battery main", "camera wide": a part in the owner's words.
[[nodiscard]] std::string part_words(const CheckView& check, std::string_view part, const Language& l);

}  // namespace hb::sheet
