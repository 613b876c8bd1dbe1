#include <algorithm>
#include <fstream>
#include <iterator>

#include "reports/record/utc.hpp"
#include "reports/sign/sign.hpp"

namespace hb::sign {
namespace {
Result<KeyRing::Entry> read_entry(const std::filesystem::path& file) {
  std::ifstream in(file, std::ios::binary);
  const std::string text{std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
  if (!in && !in.eof())
    return Error{ErrorCode::io, "a public key cannot be read", file.string(), "Check its permissions."};
  auto key = PublicKey::from_jwk(text);
  if (!key) {
    auto e = std::move(key).error();
    e.where = file.string();
    if (e.next.empty()) e.next = "Replace it with the public JWK of the bench.";
    return e;
  }
  const auto jwk = record::parse_strict(text).value();  // from_jwk has read it
  const auto optional_text = [&](const char* member) -> std::optional<std::string> {
    const auto it = jwk.find(member);
    if (it == jwk.end()) return std::string();
    if (!it->is_string()) return std::nullopt;
    return it->get<std::string>();
  };
  const auto label = optional_text("label"), revoked = optional_text("revoked_utc");
  if (!label || !all_seen(*label) || !revoked || (!revoked->empty() && !record::utc_seconds(*revoked)))
    return Error{ErrorCode::bad_format, "\"label\" or \"revoked_utc\" of a public key is not right",
                 file.string(), "Write revoked_utc like 2026-11-25T09:30:00Z."};
  return KeyRing::Entry{*key, *label, *revoked, true};
}
}  // namespace

Result<KeyRing> KeyRing::load(const std::filesystem::path& folder) {
  namespace fs = std::filesystem;
  std::error_code ec;
  if (!fs::is_directory(folder, ec))
    return Error{ErrorCode::not_found, "there is no folder of public keys", folder.string(),
                 "Name the folder that holds the *.jwk files."};
  std::vector<fs::path> files;
  for (fs::directory_iterator it(folder, ec), end; !ec && it != end; it.increment(ec))
    if (it->path().extension() == ".jwk") files.push_back(it->path());
  if (ec) return Error{ErrorCode::io, "the folder of keys cannot be read", folder.string(), ""};
  std::sort(files.begin(), files.end());
  KeyRing ring;
  for (const auto& f : files) {
    auto e = read_entry(f);
    if (!e) return std::move(e).error();
    ring.add(std::move(*e));
  }
  return ring;
}

namespace {
std::string earlier(const std::string& a, const std::string& b) {
  if (a.empty() || b.empty()) return a.empty() ? b : a;
  return std::min(a, b);
}
}  // namespace

Standing KeyRing::Entry::at(std::string_view utc) const noexcept {
  if (!vouched) return Standing::not_vouched;
  if (!revoked_utc.empty() && utc >= revoked_utc) return Standing::revoked;
  const auto covers = [&](const Span& s) { return s.from_utc <= utc && utc < s.until_utc; };
  if (!spans.empty() && std::none_of(spans.begin(), spans.end(), covers)) return Standing::outside;
  return Standing::good;
}

void KeyRing::add(Entry entry) {
  auto id = entry.key.thumbprint();
  for (auto& [known, old] : entries_) {
    if (known != id) continue;
    // A key's own document must not lift a revocation or lend itself a name.
    if (old.vouched && !entry.vouched) return;
    if (old.vouched) {
      entry.revoked_utc = earlier(entry.revoked_utc, old.revoked_utc);
      if (entry.label.empty()) entry.label = old.label;
      if (entry.spans.empty() || old.spans.empty())
        entry.spans.clear();
      else
        entry.spans.insert(entry.spans.end(), old.spans.begin(), old.spans.end());
      if (entry.root_id.empty()) entry.root_id = old.root_id;
    }
    old = std::move(entry);
    return;
  }
  entries_.emplace_back(std::move(id), std::move(entry));
}

void KeyRing::revoke(std::string_view key_id, std::string_view since_utc) {
  for (auto& [id, e] : entries_)
    if (id == key_id) e.revoked_utc = earlier(e.revoked_utc, std::string(since_utc));
}

const KeyRing::Entry* KeyRing::find(std::string_view key_id) const noexcept {
  for (const auto& [id, e] : entries_)
    if (id == key_id) return &e;
  return nullptr;
}
}  // namespace hb::sign
