/// What both HTML faces share.
#pragma once

#include <string>
#include <string_view>

#include "language.hpp"
#include "view.hpp"

namespace hb::sheet {

/// Text for an element or a quoted attribute. '[' is escaped too, so that no text can look like the markers
/// that a verifier searches for.
[[nodiscard]] std::string escaped(std::string_view text);

/// The document around `body`: language, character set, styles, a policy that forbids every fetch, and every
/// script but the one that `script_source` names.
[[nodiscard]] std::string document(std::string_view title, std::string_view css, std::string_view body,
                                   const Language& l, std::string_view script_source = {},
                                   std::string_view body_class = {});

[[nodiscard]] std::string_view css_class(Outcome o) noexcept;

/// The mark and the word of an outcome.
[[nodiscard]] std::string outcome_badge(Outcome o, const std::string& text);

}  // namespace hb::sheet
