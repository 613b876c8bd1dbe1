// Records, signatures and seals as somebody hands them in. First byte: what the rest is.
//   j  JSON: strict parse, canonical form (a fixed point), schema
//   w  a compact JWS      s  a summary's JWS      f  a sealed HTML file      p  a sealed PDF
//   c  changes to a good sealed page: triples of position (2 bytes) and byte; it may only stay authentic when
//      nothing changed
//   m  any payload: signed, it verifies and gives the same bytes
#include <cstdlib>

#include "reports/sign/seal.hpp"
#include "reports/sign/summary.hpp"
#include "tests/reports/record/small_record.hpp"

namespace {
using namespace hb;

void require(bool holds) {
  if (!holds) std::abort();
}

nlohmann::json record_by(const sign::SigningKey& key) {
  auto r = testing_support::small_record();
  r.bench.key_id = key.key_id();
  return record::to_json(r);
}

struct Desk {
  sign::SigningKey key = sign::SigningKey::from_seed(Bytes(32, 0x5a)).value();
  sign::KeyRing ring;
  std::string jws = sign::sign_record(record_by(key), key).value();
  std::string page = sign::seal("<html><script>" + sign::record_slot(jws) + "</script><!-- " +
                                    sign::empty_seal_slot() + " --></html>",
                                sign::FileKind::html, jws, key)
                         .value();
  Desk() { ring.add(key.public_key(), "bench 1"); }
};

void json_text(std::string_view text) {
  const auto v = record::parse_strict(text);
  if (!v) return;
  const auto once = record::canonical(*v);
  require(once.has_value());
  const auto again = record::parse_strict(*once);
  require(again && *record::canonical(*again) == *once);
  const bool valid = static_cast<bool>(record::validate(*v));
  require(valid == static_cast<bool>(record::validate(*again)));
  static_cast<void>(record::job_from_json(*v));
}

void changed(const Desk& d, ByteView edits) {
  std::string file = d.page;
  for (std::size_t i = 0; i + 2 < edits.size(); i += 3)
    file[(edits[i] * 256u + edits[i + 1]) % file.size()] = static_cast<char>(edits[i + 2]);
  const auto v = sign::verify_sealed(file, d.ring);
  require((v.status == sign::SealStatus::authentic) == (file == d.page));
}
}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const Desk d;
  if (size == 0) return 0;
  const ByteView bytes(data + 1, size - 1);
  const auto text = as_text(bytes);
  switch (data[0]) {
    case 'j':
      json_text(text);
      break;
    case 'w':
      if (const auto v = sign::verify_jws(text, d.ring)) require(text == sign::make_jws(v->payload, d.key));
      static_cast<void>(sign::verify_record(text, d.ring));
      static_cast<void>(sign::peek(text));
      break;
    case 's':
      static_cast<void>(sign::verify_summary(text, d.ring));
      break;
    case 'f':
      static_cast<void>(sign::verify_sealed(text, d.ring));
      break;
    case 'p':
      static_cast<void>(sign::verify_sealed(text, d.ring, d.jws));
      break;
    case 'c':
      changed(d, bytes);
      break;
    default: {
      const auto v = sign::verify_jws(sign::make_jws(text, d.key), d.ring);
      require(v && v->payload == text && v->known);
    }
  }
  return 0;
}
