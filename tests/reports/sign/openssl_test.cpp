// A second implementation reads our signatures: OpenSSL's command line on the raw octets.
#include <gtest/gtest.h>
#include <stdlib.h>

#include <fstream>

#include "reports/sign/sign.hpp"
#include "tests/reports/record/temp_folder.hpp"

namespace hb::sign {
namespace {
using testing_support::TempFolder;

void write(const std::filesystem::path& p, std::string_view bytes) {
  std::ofstream(p, std::ios::binary) << bytes;
}
int verify_with_openssl(const TempFolder& dir) {
  const auto at = [&](const char* n) { return " '" + (dir / n).string() + "'"; };
  const std::string command = "openssl pkeyutl -verify -rawin -pubin -keyform DER -inkey" + at("key.der") +
                              " -in" + at("message") + " -sigfile" + at("signature") + " >/dev/null 2>&1";
  return ::system(command.c_str());
}

TEST(OpenSsl, VerifiesWhatThisProgramSigned) {
  if (::system("openssl version >/dev/null 2>&1") != 0) GTEST_SKIP() << "openssl is not installed";
  const TempFolder dir;
  const auto key = SigningKey::make();
  const auto jws = make_jws("one record", key);
  const auto dot = jws.rfind('.');
  // SubjectPublicKeyInfo of Ed25519, RFC 8410 section 4: a fixed head, then the 32 octets.
  auto der = from_hex("302a300506032b6570032100").value();
  der.insert(der.end(), key.public_key().raw().begin(), key.public_key().raw().end());
  write(dir / "key.der", as_text(der));
  write(dir / "message", jws.substr(0, dot));
  write(dir / "signature", as_text(from_base64url(jws.substr(dot + 1)).value()));
  EXPECT_EQ(verify_with_openssl(dir), 0);
  write(dir / "message", jws.substr(0, dot) + "x");
  EXPECT_NE(verify_with_openssl(dir), 0);
}

}  // namespace
}  // namespace hb::sign
