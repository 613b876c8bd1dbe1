/// The words of a job that a bench needs every day, as closed lists: reported faults, kinds of repair, parts
/// fitted, colours. A record keeps the English words; the sheet shows them in the customer's language (each
/// list has its own sense in reports/sheet/po/record-texts.txt). Whatever is on a list is free of personal
/// data by construction, which free text, screened or not, never is. Several entries stand in one text with
/// kBetween between them. Source of the lists: common practice, no source. Threads: pure functions over
/// constants.
#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "harness/base/gate.hpp"

namespace hb::record {
enum class Catalogue { faults, repairs, parts, colours };

struct CatalogueEntry {
  Term id;     ///< what is typed: "screen-dark"
  Term words;  ///< what a record keeps: "screen dark"
};

inline constexpr std::string_view kBetween = "; ";

[[nodiscard]] std::span<const CatalogueEntry> catalogue(Catalogue which) noexcept;
/// The sense (msgctxt) under which the sheet's translations know the words: "fault", "repair", "fitted",
/// "colour".
[[nodiscard]] Term sense(Catalogue which) noexcept;
/// The entry with this id or with exactly these English words; capitals do not matter. Null when there is
/// none.
[[nodiscard]] const CatalogueEntry* find(Catalogue which, std::string_view said);
/// Ids of the entries that `said` may have meant, best first, at most `most`: by words that begin alike, then
/// by typing errors in the id. Empty when nothing is near.
[[nodiscard]] std::vector<std::string> suggestions(Catalogue which, std::string_view said,
                                                   std::size_t most = 4);
/// The entries of a record's text: what stands between kBetween.
[[nodiscard]] std::vector<std::string_view> pieces(std::string_view text);
}  // namespace hb::record
