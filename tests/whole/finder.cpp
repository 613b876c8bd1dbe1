#include "finder.hpp"

#include <fmt/format.h>
#include <openssl/evp.h>

#include <algorithm>
#include <cstring>
#include <set>

#include "harness/base/encoding.hpp"
#include "whole.hpp"

namespace hb::test {
namespace {
char lower(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }
std::string lower(std::string_view s) {
  std::string out(s);
  for (auto& c : out) c = lower(c);
  return out;
}
bool plain(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0; }

std::string escaped(const std::string& t, std::string_view kept, std::string_view space) {
  std::string out;
  for (const char c : t) {
    if (plain(c) || kept.find(c) != std::string_view::npos)
      out += c;
    else if (c == ' ')
      out += space;
    else
      out += fmt::format("%{:02X}", static_cast<unsigned char>(c));
  }
  return out;
}

std::string digest(const std::string& t, const EVP_MD* method) {
  unsigned char out[EVP_MAX_MD_SIZE];
  unsigned n = 0;
  EVP_Digest(t.data(), t.size(), out, &n, method, nullptr);
  return {reinterpret_cast<const char*>(out), n};
}

std::string without_fill(std::string s) {
  while (!s.empty() && s.back() == '=') s.pop_back();
  return s;
}

std::uint64_t head_of(const char* p) {
  std::uint64_t h = 0;
  std::memcpy(&h, p, sizeof h);
  return h;
}
}  // namespace

std::vector<Canary> canaries() {
  std::vector<Canary> out;
  const auto j = run({standin(), "--print-canaries", "--json"}, 20).json();
  if (j.is_array())
    for (const auto& c : j) out.push_back({c.value("name", ""), c.value("text", ""), c.value("place", "")});
  return out;
}

std::vector<Form> forms(const std::string& t) {
  std::vector<Form> out{{"itself", t}};
  std::string little, big, digits;
  for (const char c : t) {
    little += c, little += '\0';
    big += '\0', big += c;
    if (c >= '0' && c <= '9') digits += c;
  }
  out.push_back({"UTF-16LE", little.substr(0, little.size() - 1)});
  out.push_back({"UTF-16BE", big.substr(1)});
  out.push_back({"hexadecimal", hex(as_bytes(t))});
  if (const auto all = escaped(t, "", "%20"); all != t) out.push_back({"percent-escaped", all});
  if (const auto form = escaped(t, "-_.*", "+"); form != t) out.push_back({"form-escaped", form});
  if (const auto path = escaped(t, "-_.~!$&'()*+,;=:@", "%20"); path != t)
    out.push_back({"path-escaped", path});
  if (digits.size() >= 9 && digits.size() * 2 > t.size() && digits != t) out.push_back({"digits", digits});
  for (std::size_t skip = 0; skip < 3 && t.size() > skip + 6; ++skip) {
    const auto inner = std::string_view(t).substr(skip, (t.size() - skip) / 3 * 3);
    out.push_back({fmt::format("base64/{}", skip), base64(as_bytes(inner))});
    out.push_back({fmt::format("base64url/{}", skip), base64url(as_bytes(inner))});
  }
  for (const auto& [name, method] :
       {std::pair("MD5", EVP_md5()), std::pair("SHA-1", EVP_sha1()), std::pair("SHA-256", EVP_sha256())}) {
    const auto d = digest(t, method);
    out.push_back({std::string(name) + " octets", d});
    out.push_back({std::string(name) + " hexadecimal", hex(as_bytes(d))});
    out.push_back({std::string(name) + " base64", without_fill(base64(as_bytes(d)))});
    out.push_back({std::string(name) + " base64url", base64url(as_bytes(d))});
  }
  for (auto& f : out) f.bytes = lower(f.bytes);
  return out;
}

Finder::Finder(const std::vector<Canary>& all) {
  for (const auto& c : all)
    for (const auto& f : forms(c.text)) {
      if (f.bytes.size() < kHead) throw std::logic_error("a canary is too short to be told: " + c.name);
      by_head_[head_of(f.bytes.data())].push_back(needles_.size());
      needles_.push_back({f.bytes, c.name + " as " + f.kind});
    }
}

std::vector<std::string> Finder::find(const std::string& where, std::string_view bytes) const {
  std::set<std::string> hits;
  const auto hay = lower(bytes);
  for (std::size_t at = 0; at + kHead <= hay.size(); ++at) {
    const auto it = by_head_.find(head_of(hay.data() + at));
    if (it == by_head_.end()) continue;
    for (const auto n : it->second)
      if (hay.compare(at, needles_[n].bytes.size(), needles_[n].bytes) == 0)
        hits.insert(needles_[n].says + " in " + where);
  }
  return {hits.begin(), hits.end()};
}

std::string opened_up(const std::string& file, const std::string& bytes) {
  std::string more = bytes;
  const auto is_code = [](char c) { return plain(c) || c == '-' || c == '_'; };
  for (std::size_t at = 0; at < bytes.size();) {
    const auto from = std::find_if(bytes.begin() + static_cast<std::ptrdiff_t>(at), bytes.end(), is_code);
    const auto to = std::find_if_not(from, bytes.end(), is_code);
    if (to - from > 40)
      if (const auto b = from_base64url(std::string_view(&*from, static_cast<std::size_t>(to - from)))) {
        more += '\n';
        more += as_text(*b);
      }
    at = static_cast<std::size_t>(to - bytes.begin());
  }
  if (file.ends_with(".pdf") && have("qpdf") && have("pdftotext")) {
    more += run({"qpdf", "--qdf", "--object-streams=disable", file, "-"}, 60).out;
    more += run({"pdftotext", file, "-"}, 60).out;
  }
  return more;
}
}  // namespace hb::test
