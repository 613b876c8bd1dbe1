#include <algorithm>

#include "attachment.hpp"
#include "inputs.hpp"
#include "page.hpp"
#include "structure.hpp"
#include "words.hpp"

namespace hb::sheet {
namespace {
Error unfit(const char* what, const char* where) {
  return Error{ErrorCode::invalid_argument, what, where, "Give the string as the signing functions made it."};
}

/// RFC 3339 in UTC, whole seconds; anything else becomes the epoch, never the present.
std::string fixed_date(const std::string& t) {
  const bool good = t.size() == 20 && t[4] == '-' && t[10] == 'T' && t[19] == 'Z' &&
                    date(t, english()) != t && t.find_first_not_of("0123456789-:TZ") == std::string::npos;
  return good ? t : "1970-01-01T00:00:00Z";
}
}  // namespace

Result<void> check(const SheetInputs& in) {
  const auto jws_char = [](char c) {
    return (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || (c >= '0' && c <= '9') || c == '-' ||
           c == '_' || c == '.';
  };
  const auto record_char = [&](char c) { return c == '~' || jws_char(c); };
  if (in.record_jws.empty() || !std::all_of(in.record_jws.begin(), in.record_jws.end(), record_char))
    return unfit("the signed record is no compact JWS", "record_jws");
  constexpr std::string_view open = "handback-seal:[";
  const bool framed =
      in.seal_slot.size() > open.size() + 1 && in.seal_slot.starts_with(open) && in.seal_slot.ends_with(']');
  if (!framed || !std::all_of(in.seal_slot.begin() + open.size(), in.seal_slot.end() - 1, jws_char))
    return unfit("the seal slot is not handback-seal:[...]", "seal_slot");
  constexpr std::string_view jwk_open = R"({"crv":"Ed25519","kty":"OKP","x":")", jwk_close = "\"}";
  const bool jwk = in.key_jwk.size() == jwk_open.size() + 43 + jwk_close.size() &&
                   in.key_jwk.starts_with(jwk_open) && in.key_jwk.ends_with(jwk_close);
  if (!in.key_jwk.empty() && (!jwk || !std::all_of(in.key_jwk.begin() + jwk_open.size(),
                                                   in.key_jwk.end() - jwk_close.size(), jws_char)))
    return unfit("the key is no public Ed25519 JWK in its canonical form", "key_jwk");
  constexpr std::string_view certificates = "handback-certificates:[";
  const auto& c = in.certificates;
  const auto list_char = [&](char ch) { return ch == ',' || jws_char(ch); };
  if (!c.empty() && !(c.size() > certificates.size() + 1 && c.starts_with(certificates) && c.ends_with(']') &&
                      std::all_of(c.begin() + certificates.size(), c.end() - 1, list_char)))
    return unfit("the certificates are not handback-certificates:[...]", "certificates");
  return {};
}

Result<std::string> customer_pdf(const nlohmann::json& record, const SheetInputs& inputs) {
  if (auto ok = check(inputs); !ok) return ok.error();
  const auto view = read(record);
  if (!view) return view.error();
  const auto language = Language::named(inputs.language);
  if (!language) return language.error();
  const Language& l = *language;
  const auto qr = qr_code(inputs.qr_text, 104, l);
  if (!qr) return qr.error();
  const Story story = tell(*view, shown(inputs.cure_time, 60), inputs.standing, l);
  const PageSize size = inputs.paper == Paper::a4 ? PageSize{} : PageSize{612, 792};
  Canvas canvas(
      size.w, size.h,
      {l.tr("Test sheet of your phone"), "handback", fixed_date(view->finished), l.right_to_left()});
  lay_out(canvas, size, story, *view, *qr, l);
  auto page = canvas.finish();
  if (!page) return page.error();
  const auto tagged = structured(*page, canvas.figure_words());
  if (!tagged) return tagged.error();
  auto carried = attach(*tagged, inputs.record_jws, l.code());
  if (!carried) return carried.error();
  std::string slots = inputs.seal_slot;
  if (!inputs.certificates.empty()) slots = inputs.certificates + "\n%" + slots;
  return with_slot(std::move(*carried), slots);
}
}  // namespace hb::sheet
