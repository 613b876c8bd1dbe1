// Private to harness/cli: what the bytes that somebody hands in are worth. Four answers, each with a closed
// list of reasons. "Altered" is said only of what has this program's own structure and whose bytes or
// signature do not fit, or whose page contradicts the signed record inside; whatever cannot be read, or was
// written by another program, is "cannot tell". Total: any bytes give an answer. Threads: pure functions.
#pragma once

#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

#include "reports/sign/sign.hpp"

namespace hb::cli {
enum class Answer { authentic, altered, cannot_tell, superseded_or_withdrawn };

enum class Why {
  whole_sheet,  // authentic
  record,
  code,
  changed_after_sealing,  // altered
  seal_broken,
  record_missing,
  signature_fails,
  page_contradicts_record,
  empty,  // cannot tell
  too_large,
  not_a_sheet,
  not_whole,
  unreadable,
  picture_kind,
  no_code,
  foreign_code,
  saved_again,
  unknown_key,
  list_missing,
  list_damaged,
  later_run,  // superseded or withdrawn
  withdrawn,
  key_revoked
};

struct Reason {
  Why why;
  Answer answer;
  const char* code;    ///< in JSON
  const char* status;  ///< the words of earlier versions, kept for scripts
  const char* says;    ///< a sentence for a person, when there is nothing nearer to say
  const char* next;    ///< what to do; may be empty
};
[[nodiscard]] const Reason& reason(Why why);
[[nodiscard]] const char* name(Answer a);     ///< in JSON
[[nodiscard]] const char* heading(Answer a);  ///< at the terminal
/// 0 authentic, 1 altered, 3 superseded or withdrawn, 5 cannot tell.
[[nodiscard]] int exit_code(Answer a);

struct DocumentCheck {
  Why why = Why::not_a_sheet;
  std::string kind = "document";  ///< sheet (HTML), sheet (PDF), record, summary (QR code), picture, ...
  std::string says, next;         ///< empty: those of the reason
  nlohmann::json record;          ///< null unless its signature holds
  nlohmann::json summary;         ///< of a code; null unless its signature holds
  std::string kid, label, root_id, revoked_utc;
  std::string record_jws;
  [[nodiscard]] Answer answer() const { return reason(why).answer; }
};

/// `software`: this program and its version; only pages that it wrote itself are compared word by word.
[[nodiscard]] DocumentCheck check_document(std::string_view bytes, const sign::KeyRing& ring,
                                           std::string_view software);
/// The text of a code, as somebody typed or pasted it.
[[nodiscard]] DocumentCheck check_text(std::string_view text, const sign::KeyRing& ring);
}  // namespace hb::cli
