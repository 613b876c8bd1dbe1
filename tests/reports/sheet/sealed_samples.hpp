// A sample record signed, its sheets written and sealed: what a customer takes home.
#pragma once

#include "reports/sign/seal.hpp"
#include "reports/sign/summary.hpp"
#include "samples.hpp"

namespace hb::sheet {

struct SealedSample {
  sign::SigningKey key = sign::SigningKey::make();
  nlohmann::json record;
  SheetInputs in;

  explicit SealedSample(const std::string& name) : SealedSample(name, sign::SigningKey::make()) {}
  SealedSample(const std::string& name, const sign::SigningKey& signer) : key(signer), record(sample(name)) {
    record["bench"]["key_id"] = key.key_id();
    in.record_jws = sign::sign_record(record, key).value();
    in.seal_slot = sign::empty_seal_slot();
    in.qr_text = sign::make_summary(in.record_jws, key).value();
    in.key_jwk = key.public_key().jwk();
  }
  [[nodiscard]] std::string html() const {
    return sign::seal(customer_html(record, in).value(), sign::FileKind::html, in.record_jws, key).value();
  }
  [[nodiscard]] std::string pdf() const {
    return sign::seal(customer_pdf(record, in).value(), sign::FileKind::pdf, in.record_jws, key).value();
  }
};

/// `text` with the only occurrence of `from` changed; a test that changes nothing is a broken test.
inline std::string changed(std::string text, const std::string& from, const std::string& to) {
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  if (at != std::string::npos) text.replace(at, from.size(), to);
  return text;
}
}  // namespace hb::sheet
