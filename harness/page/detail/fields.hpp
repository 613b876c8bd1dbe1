/// Full-screen fields on the page: what the bench asks for and what may come back. Pure; total on any input.
#pragma once

#include <nlohmann/json.hpp>
#include <optional>
#include <string_view>
#include <vector>

#include "checks/fields.hpp"
#include "harness/base/encoding.hpp"
#include "harness/base/result.hpp"

namespace hb::page {
inline constexpr std::size_t kMarksLimit = 4096;  ///< bytes of one field's marks

/// {"seq":n,"do":"fields","fields":["white",...],"most":32}
[[nodiscard]] nlohmann::json fields_command(std::uint64_t seq, const std::vector<checks::Field>& fields);
/// {"marks":[[kind,x,y,w,h],...]}; nullopt: not of this form, too many, or a number out of range.
[[nodiscard]] std::optional<std::vector<checks::Mark>> read_marks(ByteView body);
/// A side of the screen in its own pixels, 64..20000.
[[nodiscard]] std::optional<int> read_side(const nlohmann::json& answer, const char* key);
/// The page script's closed list of reasons; anything else counts as "cannot".
[[nodiscard]] Error fields_error(std::string_view why);
}  // namespace hb::page
