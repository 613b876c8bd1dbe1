/// The script by which the customer's page checks itself, the words it speaks, and the policy that lets this
/// script run and no other.
#pragma once

#include <string>
#include <string_view>

#include "language.hpp"
#include "view.hpp"

namespace hb::sheet {

/// assets/self_check.js; spells neither marker in one piece, and no end of a script element.
[[nodiscard]] std::string_view self_check_script() noexcept;

/// The element's content as the page holds it, and the source expression of Content Security Policy level 3
/// (2.3.1) for exactly that content: "'sha256-...'".
[[nodiscard]] std::string self_check_content();
[[nodiscard]] std::string self_check_source();

/// What the person sees of it; hidden until the script runs.
[[nodiscard]] std::string self_check_section(const Language& l);

/// The script's sentences as JSON that may stand in a script element.
[[nodiscard]] std::string self_check_words(const View& view, const Language& l);
}  // namespace hb::sheet
