#include "view.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "reports/record/words.hpp"

namespace hb::sheet {
namespace {
using nlohmann::json;

constexpr std::size_t kMaxChecks = 200, kMaxEntries = 2000, kMaxPoints = 20000;

const json& at(const json& j, const char* name) {
  static const json none;
  if (!j.is_object()) return none;
  const auto it = j.find(name);
  return it == j.end() ? none : *it;
}

std::string text(const json& j, const char* name) {
  const json& v = at(j, name);
  return v.is_string() ? shown(v.get_ref<const std::string&>()) : std::string();
}

std::optional<double> number(const json& j, const char* name) {
  const json& v = at(j, name);
  if (!v.is_number()) return std::nullopt;
  const double d = v.get<double>();
  return std::isfinite(d) ? std::optional(d) : std::nullopt;
}

std::int64_t whole(const json& j, const char* name) {
  const double d = number(j, name).value_or(0);
  return std::abs(d) < 9e15 ? static_cast<std::int64_t>(d) : 0;
}

std::optional<Outcome> outcome_of(const json& j) {
  if (!j.is_string()) return std::nullopt;
  const auto& s = j.get_ref<const std::string&>();
  if (s == "pass") return Outcome::pass;
  if (s == "marginal") return Outcome::marginal;
  if (s == "fail") return Outcome::fail;
  if (s == "waived") return Outcome::waived;
  return Outcome::not_tested;
}

/// Applies `make` to each entry of the list `name`; something that is no list has no entries.
template <class F>
void each(const json& j, const char* name, std::size_t most, F&& make) {
  const json& list = at(j, name);
  if (!list.is_array()) return;
  const std::size_t n = std::min(list.size(), most);
  for (std::size_t i = 0; i < n; ++i) make(list[i]);
}

MeasureView measure(const json& j) {
  MeasureView m;
  m.key = text(j, "key");
  m.part = text(j, "part");
  m.unit = text(j, "unit");
  m.value = number(j, "value").value_or(0);
  m.u = number(j, "u").value_or(0);
  m.n = whole(j, "n");
  return m;
}

VerdictView verdict(const json& j) {
  VerdictView v;
  v.measure = measure(j);
  v.outcome = outcome_of(at(j, "outcome"));
  v.lower = number(j, "lower");
  v.upper = number(j, "upper");
  v.guard_band = number(j, "guard_band");
  v.risk = number(j, "false_accept_risk");
  v.origin = text(j, "origin");
  return v;
}

FindingView finding(const json& j) {
  FindingView f;
  f.id = text(j, "id");
  f.says = text(j, "says");
  f.open_again = text(j, "open_again");
  f.part = text(j, "part");
  each(j, "evidence", kMaxEntries, [&](const json& e) { f.evidence.push_back(measure(e)); });
  return f;
}

PlotView plot(const json& j) {
  PlotView p;
  p.kind = text(j, "kind");
  p.part = text(j, "part");
  p.cols = static_cast<int>(std::clamp<std::int64_t>(whole(j, "cols"), 0, 1000));
  p.rows = static_cast<int>(std::clamp<std::int64_t>(whole(j, "rows"), 0, 1000));
  each(j, "series", 64, [&](const json& s) {
    SeriesView out{text(s, "name"), text(s, "unit"), {}};
    const std::size_t most = p.cols > 0 ? 1000000 : kMaxPoints;
    each(s, "values", most,
         [&](const json& v) { out.values.push_back(v.is_number() ? v.get<double>() : NAN); });
    p.series.push_back(std::move(out));
  });
  return p;
}

CheckView check(const json& j) {
  CheckView c;
  c.id = text(j, "id");
  c.title = text(j, "title");
  c.customer_title = text(j, "customer_title");
  if (c.title.empty()) c.title = c.id;
  if (c.customer_title.empty()) c.customer_title = c.title;
  c.reason = text(j, "reason");
  c.outcome = outcome_of(at(j, "outcome")).value_or(Outcome::not_tested);
  c.tries = static_cast<int>(std::clamp<std::int64_t>(whole(j, "tries"), 0, 9999));
  c.bench_seconds = number(j, "bench_seconds").value_or(0);
  c.taken_run = text(at(j, "taken"), "run");
  c.taken_at = text(at(j, "taken"), "at");
  each(j, "verdicts", kMaxEntries, [&](const json& v) { c.verdicts.push_back(verdict(v)); });
  each(j, "findings", kMaxEntries, [&](const json& f) { c.findings.push_back(finding(f)); });
  each(j, "plots", 64, [&](const json& p) { c.plots.push_back(plot(p)); });
  return c;
}

/// A word of a closed list in plain English; one that the list does not know stays as it is.
std::string in_words(std::span<const record::Word> list, const std::string& id) {
  const record::Word* word = record::find_word(list, id);
  return word ? word->says.str() : id;
}

void read_job(const json& j, View& v) {
  v.job = text(j, "id");
  v.opened = text(j, "opened");
  v.fault = text(j, "fault");
  v.colour = text(j, "colour");
  v.comeback_of = text(j, "comeback_of");
  v.repair = text(j, "repair");
  v.cure_hours = number(j, "cure_hours");
  v.consent = at(j, "consent").is_boolean() && at(j, "consent").get<bool>();
  each(j, "parts", 100, [&](const json& p) {
    v.parts.push_back({text(p, "name"), text(p, "lot"), p.is_object() && !p.contains("name")});
  });
  if (!v.job.empty())  // a record holds every member, empty or not: what is absent was erased
    for (const char* member : {"fault", "colour", "repair", "parts"})
      if (!j.contains(member)) v.erased.emplace_back(member);
  each(j, "waivers", 100, [&](const json& w) {
    v.waivers.push_back({text(w, "check"), in_words(record::waiver_reasons(), text(w, "reason"))});
  });
}

void read_run(const json& run, View& v) {
  v.run_id = text(run, "id");
  v.kind = text(run, "kind");
  v.started = text(run, "started");
  v.finished = text(run, "finished");
  v.clock = text(run, "clock");
  v.link = text(run, "link");
  v.software = text(run, "software");
  v.bench_seconds = number(run, "bench_seconds").value_or(0);
  v.other_phone = in_words(record::other_phone_reasons(), text(run, "other_phone"));
  v.clock_back_s = number(run, "clock_back_s").value_or(0);
  const json& follows = at(run, "follows");
  v.follows_run = text(follows, "run");
  each(follows, "opened", 100, [&](const json& part) {
    if (part.is_string())
      v.reopened.push_back(in_words(record::opened_parts(), shown(part.get_ref<const std::string&>())));
  });
}

/// One code point at `i`, advancing it; nullopt for invalid UTF-8 (RFC 3629), advancing by one byte.
std::optional<char32_t> code_point(std::string_view s, std::size_t& i) {
  const auto byte = [&](std::size_t k) { return k < s.size() ? static_cast<unsigned char>(s[k]) : 0U; };
  const unsigned b = byte(i);
  const std::size_t n = b < 0x80 ? 1 : (b >> 5) == 6 ? 2 : (b >> 4) == 14 ? 3 : (b >> 3) == 30 ? 4 : 0;
  if (n == 1) return ++i, b;
  if (n == 0) return ++i, std::nullopt;
  char32_t c = b & (0x7FU >> n);
  for (std::size_t k = 1; k < n; ++k) {
    if ((byte(i + k) >> 6) != 2) return ++i, std::nullopt;
    c = (c << 6) | (byte(i + k) & 0x3F);
  }
  constexpr std::array<char32_t, 5> least{0, 0, 0x80, 0x800, 0x10000};
  if (c < least[n] || c > 0x10FFFF || (c >= 0xD800 && c < 0xE000)) return ++i, std::nullopt;
  i += n;
  return c;
}

bool invisible(char32_t c) {
  return c < 0x20 || (c >= 0x7F && c < 0xA0) || (c >= 0x200B && c <= 0x200F) ||
         (c >= 0x2028 && c <= 0x202E) || (c >= 0x2060 && c <= 0x206F) || c == 0xFEFF ||
         (c >= 0xFFF0 && c <= 0xFFFB);
}
}  // namespace

std::string shown(std::string_view s, std::size_t max) {
  std::string out;
  std::size_t count = 0;
  for (std::size_t i = 0; i < s.size(); ++count) {
    if (count == max) return out + "\u2026";
    const std::size_t from = i;
    const auto c = code_point(s, i);
    if (!c) {
      out += '?';
    } else if (invisible(*c)) {
      if (!out.empty() && out.back() != ' ') out += ' ';
    } else {
      out += s.substr(from, i - from);
    }
  }
  return out;
}

const std::vector<double>* PlotView::values(std::string_view name) const {
  for (const auto& s : series)
    if (s.name == name && !s.values.empty()) return &s.values;
  return nullptr;
}

std::vector<const VerdictView*> CheckView::measures(std::string_view quantity) const {
  std::vector<const VerdictView*> found;
  for (const auto& v : verdicts) {
    const std::string_view key = v.measure.key;
    const auto dot = key.rfind('.');
    if (key.substr(dot == std::string_view::npos ? 0 : dot + 1) == quantity) found.push_back(&v);
  }
  return found;
}

bool View::is_erased(std::string_view member) const {
  return std::find(erased.begin(), erased.end(), member) != erased.end();
}

int View::count(Outcome o) const {
  return static_cast<int>(
      std::count_if(checks.begin(), checks.end(), [&](const auto& c) { return c.outcome == o; }));
}

Result<View> read(const json& record) {
  if (!record.is_object() || !at(record, "checks").is_array())
    return Error{ErrorCode::bad_format, "this is not a record: an object with a list of checks was expected",
                 "/checks", "Give a record that this program wrote."};
  View v;
  const json &run = at(record, "run"), &bench = at(record, "bench"), &phone = at(record, "phone");
  read_run(run, v);
  read_job(at(record, "job"), v);
  v.shop = text(bench, "shop");
  v.bench = text(bench, "name");
  v.contact = text(bench, "contact");
  v.key_id = text(bench, "key_id");
  v.tag = text(phone, "tag");
  v.tail = text(phone, "tail");
  v.model = text(phone, "model");
  v.profile_sha256 = text(phone, "profile_sha256");
  each(record, "checks", kMaxChecks, [&](const json& c) {
    v.checks.push_back(check(c));
    CheckView& last = v.checks.back();
    last.phone_as_it_came = v.as_it_came();
    if (last.taken_run == v.run_id) last.taken_run.clear(), last.taken_at.clear();
  });
  v.outcome = outcome_of(at(record, "outcome")).value_or(Outcome::not_tested);
  if (v.checks.empty()) v.outcome = std::max(v.outcome, Outcome::not_tested);
  for (const auto& c : v.checks) v.outcome = std::max(v.outcome, c.outcome);
  return v;
}
}  // namespace hb::sheet
