// The sample records and inputs that the sheet's tests share.
#pragma once

#include <gtest/gtest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

#include "reports/sheet/sheet.hpp"

namespace hb::sheet {

inline nlohmann::json sample(const std::string& name) {
  std::ifstream f(std::string(HB_SOURCE_DIR) + "/tests/reports/sheet/" + name + ".json");
  return nlohmann::json::parse(f);
}

inline SheetInputs inputs() {
  SheetInputs in;
  for (int i = 0; i < 400; ++i) in.record_jws += "eyJ-ZXhh_bXBsZQ" + std::to_string(i);
  in.record_jws += ".cGF5bG9hZA.c2lnbmF0dXJl";
  in.seal_slot = "handback-seal:[" + std::string(700, '.') + "]";
  for (int i = 0; i < 24; ++i)
    in.qr_text += "eyJ2IjoxLCJqIjoiSi0" + std::to_string(i);  // the size of a summary
  in.key_jwk = R"({"crv":"Ed25519","kty":"OKP","x":"11qYAYKxCrfVS_7TyWQHOg7hcvPapiMlrwIaaPcHURo"})";
  return in;  // the key of RFC 8037, appendix A.2
}

inline std::size_t occurrences(std::string_view text, std::string_view what) {
  std::size_t n = 0;
  for (auto at = text.find(what); at != std::string_view::npos; at = text.find(what, at + 1)) ++n;
  return n;
}

/// Every text member set to `text`, everywhere below `j`, except the words that steer the drawing.
inline void spoil(nlohmann::json& j, const std::string& text) {
  if (j.is_string()) j = text;
  if (j.is_array())
    for (auto& e : j) spoil(e, text);
  if (j.is_object())
    for (auto& [name, value] : j.items())
      if (name != "outcome" && name != "kind" && name != "schema") spoil(value, text);
}
}  // namespace hb::sheet
