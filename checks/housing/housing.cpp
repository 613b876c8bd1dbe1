// Everything but the waiting. Pure: the same capture gives the same bits.
#include "checks/housing/housing.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "checks/seen.hpp"

namespace hb::checks {
using nlohmann::json;
namespace {
constexpr double kGaugeStep_mm = 0.05;  // leaves of a feeler gauge: common practice, no source

struct Row {
  Inspection inspection;
  Term key, unit;
};
constexpr Row kRows[] = {{Inspection::widest_gap, "housing.observed_gap_mm", "mm"},
                         {Inspection::seated, "housing.observed_seated", "1"},
                         {Inspection::colour_agreed, "housing.observed_colour_agreed", "1"},
                         {Inspection::new_adhesive, "housing.observed_new_adhesive", "1"},
                         {Inspection::screws, "housing.observed_screws_missing", "1"}};

Error torn() {
  return {ErrorCode::bad_format, "an answer does not fit what was asked", "housing", "Run the check again."};
}

}  // namespace

CheckInfo Housing::needs() {
  return {"housing",
          "Housing, as seen",
          "Housing, as seen by the technician",
          {Resource::hands},
          std::chrono::seconds{60},
          "Do not press on the screen's edge to close a gap: the glass can break."};
}

std::vector<SectionSpec> Housing::sections() {
  return {{"cover",
           true,
           {{"adhesive", KeyType::boolean, "false when the cover is not held by adhesive", false}}},
          {"screws", true, {{"count", KeyType::integer, "screws in this group, 1 to 60", true, 1, 60}}}};
}

Result<Housing::Config> Housing::configure(const Sections& sections) {
  Config c;
  for (const Section* s : sections.named("cover"))
    c.covers.push_back({s->name, s->boolean("adhesive", true)});
  for (const Section* s : sections.named("screws"))
    c.screws.push_back({s->name, static_cast<int>(s->integer("count"))});
  if (c.covers.empty() && c.screws.empty())
    return Error{ErrorCode::unsupported, "the profile names no cover and no screws", "cover",
                 "Add a [[cover]] for each part that closes the phone."};
  return c;
}

std::vector<Term> Housing::limit_keys() {
  std::vector<Term> out;
  for (const Row& r : kRows) out.push_back(r.key);
  return out;
}

std::vector<Question> Housing::questions(const Config& config) {
  std::vector<Question> out;
  for (const Screws& s : config.screws) out.push_back({Inspection::screws, s.name});
  for (const Cover& c : config.covers) {
    out.push_back({Inspection::widest_gap, c.name});
    out.push_back({Inspection::seated, c.name});
    out.push_back({Inspection::colour_agreed, c.name});
    if (c.adhesive) out.push_back({Inspection::new_adhesive, c.name});
  }
  return out;
}

Result<Measured> Housing::measure(const Capture& capture, const Config& config) {
  const auto asked = questions(config);
  if (asked.size() != capture.answers.size()) return torn();
  Measured out;
  for (std::size_t i = 0; i < asked.size(); ++i) {
    const Question& q = asked[i];
    const Answer& a = capture.answers[i];
    if (a.inspection != q.inspection || a.part != q.part.str() || !may_answer(q.inspection, a.value))
      return torn();
    const Row& row = *std::find_if(std::begin(kRows), std::end(kRows),
                                   [&](const Row& r) { return r.inspection == q.inspection; });
    double value = a.value;
    if (q.inspection == Inspection::screws) {
      const auto group = std::find_if(config.screws.begin(), config.screws.end(),
                                      [&](const Screws& s) { return s.name == q.part; });
      value = std::abs(group->count - a.value);  // a screw too many is in the wrong place too
    }
    const double u = q.inspection == Inspection::widest_gap ? kGaugeStep_mm / std::sqrt(12.0) : 0;
    out.measures.push_back({row.key, q.part, value, u, row.unit, 1});
  }
  return out;
}

std::vector<Finding> Housing::diagnose(std::span<const Verdict> verdicts, const Capture&, const Config&) {
  struct Says {
    std::string_view key;
    Term id, says, open_again;
  };
  static constexpr Says kSays[] = {
      {"housing.observed_screws_missing", "screws_missing",
       "The technician counted another number of screws than the profile lists for this group.",
       "Put every screw back in its own place; a long one in a short one's hole damages the board."},
      {"housing.observed_gap_mm", "cover_gap", "The technician saw a gap along the edge of this cover.",
       "Look for a cable, a screw or old adhesive under the edge; a swollen battery also lifts a cover."},
      {"housing.observed_seated", "cover_not_seated",
       "The technician saw that this cover does not sit flush.",
       "Open it again, clean the frame, and press it with clamps while the adhesive sets."},
      {"housing.observed_colour_agreed", "colour_differs",
       "The technician saw another colour than was agreed for this cover.",
       "Ask the customer, or change the cover."},
      {"housing.observed_new_adhesive", "adhesive_not_renewed",
       "The technician said that no new adhesive was used under this cover.",
       "Open it again and use new adhesive."}};
  std::vector<Finding> out;
  for (const Verdict& v : verdicts) {
    if (!is_bad(v)) continue;
    for (const Says& s : kSays)
      if (v.measure.key.view() == s.key)
        out.push_back({s.id, s.says, s.open_again, v.measure.part, {v.measure}});
  }
  return out;
}

void to_json(json& j, const Housing::Capture& c) {
  json all = json::array();
  for (const auto& a : c.answers)
    all.push_back(json::array({static_cast<int>(a.inspection), a.part, a.value}));
  j = json{{"answers", std::move(all)}};
}

void from_json(const json& j, Housing::Capture& c) {
  c = {};
  for (const auto& a : j.at("answers"))
    c.answers.push_back(
        {static_cast<Inspection>(a.at(0).get<int>()), a.at(1).get<std::string>(), a.at(2).get<double>()});
}

}  // namespace hb::checks
