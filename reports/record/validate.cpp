#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

#include <nlohmann/json.hpp>
#include "harness/base/text.hpp"

#include "reports/record/record.hpp"
#include "reports/record/utc.hpp"
#include "reports/record/words.hpp"

// The schema as a whitelist: what is not named here does not enter a record. It repeats the gate's rules on
// purpose, so that a mistake upstream is caught before anything is signed.
namespace hb::record {
namespace {
using nlohmann::json;
using Rule = std::function<Result<void>(const json&, const std::string& at)>;

constexpr std::size_t kWord = 64, kText = 400, kSentence = 1000;
constexpr std::size_t kList = 512, kPlotValues = 200000;

/// `what` is of this program; the value itself never goes into an error.
Error bad(std::string what, const std::string& at, ErrorCode code = ErrorCode::bad_format) {
  return Error{code, std::move(what), at.empty() ? "/" : at, "The record is not kept."};
}

bool all_of(std::string_view s, std::string_view allowed) {
  return s.find_first_not_of(allowed) == std::string_view::npos;
}
constexpr std::string_view kDigits = "0123456789";
constexpr std::string_view kHex = "0123456789abcdef";
constexpr std::string_view kTail = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";
constexpr std::string_view kName = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz_-";
constexpr std::string_view kKey = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz_-.";

// ---------------------------------------------------------------- rules for one value

/// `published`: the shop's own contact, which it prints on every sheet.
Rule text(std::size_t max, bool published = false) {
  return [max, published](const json& v, const std::string& at) -> Result<void> {
    if (!v.is_string()) return bad("a text was expected", at);
    const auto& s = v.get_ref<const std::string&>();
    if (s.size() > max) return bad("the text is too long", at);
    if (!valid_utf8(s)) return bad("the text is not valid UTF-8", at);
    for (const char c : s)
      if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f)
        return bad("the text holds control characters", at);
    if (const Term why = published ? Term() : personal_shape(s); !why.empty())
      return bad("this text is refused: " + why.str(), at, ErrorCode::privacy);
    return {};
  };
}

Rule shaped(std::string expected, std::function<bool(std::string_view)> fits) {
  return [expected = std::move(expected), fits = std::move(fits)](const json& v,
                                                                  const std::string& at) -> Result<void> {
    if (!v.is_string() || !fits(v.get_ref<const std::string&>())) return bad(expected + " was expected", at);
    return {};
  };
}

Rule one_of(std::vector<std::string> words) {
  return shaped("a word of the schema", [words = std::move(words)](std::string_view s) {
    return std::find(words.begin(), words.end(), s) != words.end();
  });
}

Rule number(double min = -std::numeric_limits<double>::max(),
            double max = std::numeric_limits<double>::max()) {
  return [min, max](const json& v, const std::string& at) -> Result<void> {
    if (!v.is_number()) return bad("a number was expected", at);
    const double d = v.get<double>();
    if (!std::isfinite(d) || d < min || d > max) return bad("the number is out of range", at);
    return {};
  };
}

Rule integer(double min, double max) {
  return [in_range = number(min, max)](const json& v, const std::string& at) -> Result<void> {
    if (!v.is_number() || std::floor(v.get<double>()) != v.get<double>())
      return bad("a whole number was expected", at);
    return in_range(v, at);
  };
}

Rule boolean() {
  return [](const json& v, const std::string& at) -> Result<void> {
    if (!v.is_boolean()) return bad("true or false was expected", at);
    return {};
  };
}

Rule nullable(Rule rule) {
  return [rule = std::move(rule)](const json& v, const std::string& at) -> Result<void> {
    if (v.is_null()) return {};
    return rule(v, at);
  };
}

Rule list(Rule element, std::size_t max = kList) {
  return [element = std::move(element), max](const json& v, const std::string& at) -> Result<void> {
    if (!v.is_array()) return bad("a list was expected", at);
    if (v.size() > max) return bad("the list is too long", at);
    for (std::size_t i = 0; i < v.size(); ++i)
      if (auto r = element(v[i], at + "/" + std::to_string(i)); !r) return r;
    return {};
  };
}

struct Member {
  std::string name;
  Rule rule;
  bool may_lack = false;  ///< younger than the first records, or a typed text that may have been erased
};

/// Every member is required, unless it may lack, and no other is allowed.
Rule object(std::vector<Member> members) {
  return [members = std::move(members)](const json& v, const std::string& at) -> Result<void> {
    if (!v.is_object()) return bad("an object was expected", at);
    std::size_t known = 0;
    for (const auto& m : members) {
      const auto it = v.find(m.name);
      if (it == v.end() && m.may_lack) continue;
      ++known;
      if (it == v.end()) return bad("a member is missing", at + "/" + m.name);
      if (auto r = m.rule(*it, at + "/" + m.name); !r) return r;
    }
    // The stray name could itself be personal, so only the place is told.
    if (v.size() != known) return bad("a member is not part of the schema", at);
    return {};
  };
}

// ---------------------------------------------------------------- the schema

Rule utc() {
  return shaped("a time like 2026-11-25T09:30:00Z",
                [](std::string_view s) { return utc_seconds(s).has_value(); });
}

Rule hex_of(std::size_t digits) {
  return shaped("lower-case hexadecimal",
                [digits](std::string_view s) { return s.size() == digits && all_of(s, kHex); });
}

bool is_job_id(std::string_view s) {
  return s.size() >= 15 && s.size() <= 17 && s.substr(0, 2) == "J-" && all_of(s.substr(2, 8), kDigits) &&
         s[10] == '-' && all_of(s.substr(11), kDigits);
}

Rule run_id() {
  return shaped("a run's number of 26 characters",
                [](std::string_view s) { return s.size() == 26 && all_of(s, kName); });
}

Rule word_of(std::span<const Word> words) {
  return shaped("a word of the schema",
                [words](std::string_view s) { return find_word(words, s) != nullptr; });
}

Rule check_id() {
  return shaped("a check's name",
                [](std::string_view s) { return !s.empty() && s.size() <= kWord && all_of(s, kName); });
}

Rule outcome() { return one_of({"pass", "marginal", "fail", "not tested", "waived"}); }

Rule key() {
  return [screened = text(96)](const json& v, const std::string& at) -> Result<void> {
    if (!v.is_string() || !all_of(v.get_ref<const std::string&>(), kKey))
      return bad("a measure's key was expected", at);
    return screened(v, at);
  };
}

std::vector<Member> measure_members() {
  return {{"key", key()},   {"part", text(kText)}, {"value", number()},
          {"u", number(0)}, {"unit", text(kWord)}, {"n", integer(0, 9007199254740991.0)}};
}

Rule verdict() {
  auto members = measure_members();
  for (Member& m :
       std::vector<Member>{{"outcome", nullable(outcome())},
                           {"lower", nullable(number())},
                           {"upper", nullable(number())},
                           {"origin", nullable(one_of({"maker's figure", "learned", "common practice"}))},
                           {"guard_band", number(0)},
                           {"false_accept_risk", number(0, 1)}})
    members.push_back(std::move(m));
  return [shape = object(std::move(members))](const json& v, const std::string& at) -> Result<void> {
    if (auto r = shape(v, at); !r) return r;
    const bool limited = !v["lower"].is_null() || !v["upper"].is_null();
    if (limited == v["outcome"].is_null() || limited == v["origin"].is_null())
      return bad("a measure is judged if and only if it has a limit", at + "/outcome");
    return {};
  };
}

Rule check() {
  const Rule series =
      object({{"name", text(kWord)}, {"unit", text(kWord)}, {"values", list(number(), kPlotValues)}});
  const Rule plot = object({{"kind", text(kWord)},
                            {"part", text(kText)},
                            {"cols", integer(0, 100000)},
                            {"rows", integer(0, 100000)},
                            {"series", list(series)}});
  const Rule finding = object({{"id", text(kWord)},
                               {"says", text(kSentence)},
                               {"open_again", text(kSentence)},
                               {"part", text(kText)},
                               {"evidence", list(object(measure_members()))}});
  return object({{"id", text(kWord)},
                 {"title", text(kText)},
                 {"customer_title", text(kText)},
                 {"outcome", outcome()},
                 {"reason", text(kSentence), true},
                 {"tries", integer(0, 10000)},
                 {"bench_seconds", number(0)},
                 {"verdicts", list(verdict())},
                 {"findings", list(finding)},
                 {"plots", list(plot)},
                 {"taken", object({{"run", run_id()}, {"at", utc()}}), true}});
}

Rule job() {
  const auto id = [](std::string_view s) { return is_job_id(s); };
  const auto id_or_none = [](std::string_view s) { return s.empty() || is_job_id(s); };
  return object(
      {{"id", shaped("a job number like J-20261125-0001", id)},
       {"opened", utc()},
       {"fault", text(kText), true},
       {"parts", list(object({{"name", text(kText)}, {"lot", text(kText)}})), true},
       {"colour", text(kText), true},
       {"consent", boolean()},
       {"comeback_of", shaped("an earlier job's number, or nothing,", id_or_none)},
       {"repair", text(kText), true},
       {"cure_hours", number(kCureHours.first, kCureHours.second), true},
       {"waivers", list(object({{"check", check_id()}, {"reason", word_of(waiver_reasons())}}), 128), true}});
}

Rule record_rule() {
  const Rule follows =
      object({{"run", run_id()}, {"opened", list(word_of(opened_parts()), opened_parts().size())}});
  const Rule run = object({{"id", run_id()},
                           {"kind", one_of({"intake", "release", "comeback"})},
                           {"started", utc()},
                           {"finished", utc()},
                           {"clock", text(kWord)},
                           {"link", one_of({"tcp", "usb"})},
                           {"bench_seconds", number(0)},
                           {"software", text(kWord)},
                           {"follows", follows, true},
                           {"other_phone", word_of(other_phone_reasons()), true},
                           {"clock_back_s", number(0), true}});
  const Rule key_id =
      shaped("a key thumbprint", [](std::string_view s) { return s.size() == 43 && all_of(s, kName); });
  const Rule bench = object({{"shop", text(kText, true)},
                             {"name", text(kText)},
                             {"contact", text(kText, true)},
                             {"key_id", key_id}});
  const Rule tail = shaped("at most 4 capital letters and digits",
                           [](std::string_view s) { return s.size() <= 4 && all_of(s, kTail); });
  const Rule phone =
      object({{"tag", hex_of(16)}, {"tail", tail}, {"model", text(kText)}, {"profile_sha256", hex_of(64)}});
  return object({{"schema", one_of({"handback-record-1"})},
                 {"run", run},
                 {"job", job()},
                 {"bench", bench},
                 {"phone", phone},
                 {"outcome", outcome()},
                 {"checks", list(check(), 128)}});
}
}  // namespace

Result<void> validate(const json& record) { return record_rule()(record, ""); }

Result<Job> job_from_json(const json& j) {
  if (auto r = job()(j, "/job"); !r) return std::move(r).error();
  Job out;
  out.id = j["id"];
  out.opened_utc = j["opened"];
  out.comeback_of = j["comeback_of"];
  out.consent_tests = j["consent"];
  if (const auto it = j.find("cure_hours"); it != j.end()) out.cure_hours = it->get<double>();
  for (const auto& w : j.value("waivers", json::array()))
    out.waivers.push_back(
        {w["check"], find_word(waiver_reasons(), w["reason"].get_ref<const std::string&>())->id});
  const auto take = [](ShopText& into, const json& from, const char* member) -> Result<void> {
    const auto it = from.find(member);
    if (it == from.end()) return {};  // erased
    auto t = ShopText::kept(it->get_ref<const std::string&>(), "job");
    if (!t) return std::move(t).error();
    into = std::move(*t);
    return {};
  };
  if (auto r = take(out.fault, j, "fault"); !r) return std::move(r).error();
  if (auto r = take(out.colour_agreed, j, "colour"); !r) return std::move(r).error();
  if (auto r = take(out.repair_kind, j, "repair"); !r) return std::move(r).error();
  for (const auto& p : j.value("parts", json::array())) {
    Part part;
    if (auto r = take(part.name, p, "name"); !r) return std::move(r).error();
    if (auto r = take(part.lot, p, "lot"); !r) return std::move(r).error();
    out.parts_fitted.push_back(std::move(part));
  }
  return out;
}
}  // namespace hb::record
