/// Closed lists of the record: words that stand for a reason or a part, so that nobody types one freely.
/// Common practice of repair benches, no source. Lists only grow: a word in a signed record keeps its
/// meaning. Threads: constants.
#pragma once

#include <span>
#include <string>
#include <string_view>

#include "harness/base/gate.hpp"

namespace hb::record {

struct Word {
  Term id;    ///< in the record and on the command line
  Term says;  ///< plain words
};

/// Why a check is not done, as agreed with the customer: job.waivers, run --waive.
[[nodiscard]] std::span<const Word> waiver_reasons() noexcept;
/// Why a job's later run is of a phone with another serial number: run.other_phone.
[[nodiscard]] std::span<const Word> other_phone_reasons() noexcept;
/// What was opened or changed between two runs of a job: run.follows.opened.
[[nodiscard]] std::span<const Word> opened_parts() noexcept;

/// nullptr when the list has no such word.
[[nodiscard]] const Word* find_word(std::span<const Word> list, std::string_view id) noexcept;
/// "a, b, c"
[[nodiscard]] std::string words_of(std::span<const Word> list);

/// Touch, hinge, batteries, charging and cameras: a phone on which one of these was not done is not
/// completely checked, whoever agreed to it. Common practice, no source.
[[nodiscard]] bool is_core_check(std::string_view check_id) noexcept;
}  // namespace hb::record
