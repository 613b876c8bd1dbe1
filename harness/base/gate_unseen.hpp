// Private to harness/base: which characters are seen where they stand.
#pragma once

namespace hb::detail {
/// False for controls (C0, C1), directional embeddings, overrides and isolates, tag characters, zero-width
/// characters, variation selectors, other default-ignorable ones, line separators, surrogates, private use
/// and unassigned code points.
[[nodiscard]] bool seen(char32_t c) noexcept;
}  // namespace hb::detail
