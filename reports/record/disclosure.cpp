#include "reports/record/disclosure.hpp"

#include <algorithm>
#include <map>

#include "harness/base/text.hpp"

namespace hb::record {
namespace {
using nlohmann::json;
constexpr const char *kDigests = "_sd", *kAlgorithm = "_sd_alg", *kSha256 = "sha-256";
constexpr std::size_t kDigestLength = 43, kMostDisclosures = 512;

Error bad(std::string what, std::string where) {
  return {ErrorCode::altered, std::move(what), std::move(where), "Ask the shop for its own copy."};
}

/// An object that holds typed texts.
struct Place {
  json* object = nullptr;
  std::string pointer;
  std::vector<const char*> names;  ///< ascending
};

/// In the one order. Total on any JSON.
std::vector<Place> places(json& document) {
  std::vector<Place> out;
  if (!document.is_object()) return out;
  if (const auto job = document.find("job"); job != document.end() && job->is_object())
    out.push_back({&*job, "/job", {"colour", "fault", "parts", "repair"}});
  const auto checks = document.find("checks");
  if (checks == document.end() || !checks->is_array()) return out;
  for (std::size_t i = 0; i < checks->size(); ++i) {
    auto& c = (*checks)[i];
    if (c.is_object() && c.value("outcome", json()) == "waived")
      out.push_back({&c, "/checks/" + std::to_string(i), {"reason"}});
  }
  return out;
}

std::string digest_of(std::string_view disclosure) { return base64url(sha256(as_bytes(disclosure))); }

struct Disclosure {
  std::string name;
  json value;
};
Result<Disclosure> read(std::string_view text) {
  const Error broken = bad("a text beside the record is damaged", "disclosures");
  const auto bytes = from_base64url(text);
  if (!bytes) return broken;
  const auto j = parse_strict(as_text(*bytes));
  if (!j || !j->is_array() || j->size() != 3 || !(*j)[0].is_string() || !(*j)[1].is_string()) return broken;
  const auto again = canonical(*j);
  if (!again || *again != as_text(*bytes)) return broken;
  return Disclosure{(*j)[1].get<std::string>(), (*j)[2]};
}

/// Where each digest belongs, and how many of a place are not disclosed yet.
struct Expected {
  std::map<std::string, std::size_t> place_of;
  std::vector<Place> places;
};
Result<Expected> expect(json& document) {
  Expected e;
  e.places = places(document);
  for (std::size_t i = 0; i < e.places.size(); ++i) {
    const auto& [object, pointer, names] = e.places[i];
    const Error wrong = bad("the hashes of texts are not as this program writes them", pointer);
    const auto digests = object->find(kDigests);
    if (digests == object->end() || !digests->is_array() || digests->size() != names.size()) return wrong;
    std::string last;
    for (const auto& d : *digests) {
      if (!d.is_string()) return wrong;
      const auto& text = d.get_ref<const std::string&>();
      if (text.size() != kDigestLength || text <= last || !from_base64url(text)) return wrong;
      if (!e.place_of.emplace(text, i).second) return wrong;
      last = text;
    }
    for (const char* name : names)
      if (object->contains(name)) return wrong;
    object->erase(kDigests);
  }
  return e;
}
}  // namespace

Result<Concealed> conceal(json document, const Salt& salt) {
  const auto unfit = [](std::string what, std::string where) {
    return Error{ErrorCode::bad_format, std::move(what), std::move(where), "Sign the whole record."};
  };
  if (!document.is_object() || document.contains(kAlgorithm)) return unfit("this is signed already", "/");
  Concealed out;
  for (auto& [object, pointer, names] : places(document)) {
    std::vector<std::string> digests;
    for (const char* name : names) {
      const auto it = object->find(name);
      if (it == object->end()) return unfit("a text is missing", pointer + "/" + name);
      const auto octets = salt();
      if (octets.size() != kSaltOctets)
        return Error{ErrorCode::invalid_argument, "a salt has 16 octets", "salt", ""};
      auto text = canonical(json::array({base64url(octets), name, *it}));
      if (!text) return std::move(text).error();
      const auto disclosure = base64url(as_bytes(*text));
      digests.push_back(digest_of(disclosure));
      (out.disclosures += disclosure) += '~';
      object->erase(it);
    }
    std::sort(digests.begin(), digests.end());
    (*object)[kDigests] = std::move(digests);
  }
  document[kAlgorithm] = kSha256;
  out.payload = std::move(document);
  return out;
}

bool is_concealed(const json& payload) { return payload.is_object() && payload.contains(kAlgorithm); }

Result<Revealed> reveal(json payload, std::string_view disclosures) {
  if (!is_concealed(payload)) {
    if (!disclosures.empty())
      return bad("texts lie beside a record that has none to disclose", "disclosures");
    return Revealed{std::move(payload), {}};
  }
  if (payload[kAlgorithm] != kSha256) return bad("the hashes of texts are of an unknown kind", "/_sd_alg");
  Revealed out{std::move(payload), {}};
  out.document.erase(kAlgorithm);
  auto expected = expect(out.document);
  if (!expected) return std::move(expected).error();
  if (!disclosures.empty() && disclosures.back() != '~')
    return bad("a text beside the record is cut off", "disclosures");
  auto given = split(disclosures, '~');
  if (!given.empty()) given.pop_back();  // what follows the last '~'
  if (given.size() > kMostDisclosures) return bad("too many texts lie beside the record", "disclosures");
  std::pair<std::size_t, std::string> last;
  for (const std::string_view text : given) {
    const auto at = expected->place_of.find(digest_of(text));
    if (at == expected->place_of.end())
      return bad("a text beside the record does not belong to it, or is there twice", "disclosures");
    auto d = read(text);
    if (!d) return std::move(d).error();
    const std::pair here{at->second, d->name};
    const auto& [object, pointer, names] = expected->places[at->second];
    if (std::find(names.begin(), names.end(), d->name) == names.end() || !(last < here))
      return bad("a text beside the record stands in the wrong place", pointer);
    expected->place_of.erase(at);
    (*object)[d->name] = std::move(d->value);
    last = here;
  }
  for (const auto& [object, pointer, names] : expected->places)
    for (const char* name : names)
      if (!object->contains(name)) out.erased.push_back(pointer + "/" + name);
  return out;
}
}  // namespace hb::record
