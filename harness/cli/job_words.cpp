#include "job_words.hpp"

#include <fmt/format.h>

namespace hb::cli {
namespace {
using record::Catalogue;

/// The entry's words, or the text itself through the screen.
Result<ShopText> listed_or_free(Catalogue which, const std::string& said, const char* option,
                                std::size_t max_bytes) {
  if (const auto* entry = record::find(which, said)) return ShopText(entry->words);
  return ShopText::screened(said, option, max_bytes);
}

Error unknown_fault(const std::string& said) {
  std::string near;
  for (const auto& id : record::suggestions(Catalogue::faults, said)) near += (near.empty() ? "" : ", ") + id;
  return Error{ErrorCode::invalid_argument, "this is no fault of the list", "--fault",
               (near.empty() ? std::string() : "Near it: " + near + ". ") +
                   "handback intake --list-faults shows all; your own words go into --fault-text, and are "
                   "screened for what is personal."};
}

Result<ShopText> faults_of(const JobWords& w) {
  std::string all;
  for (const auto& said : w.faults) {
    const auto* entry = record::find(Catalogue::faults, said);
    if (entry == nullptr) return unknown_fault(said);
    all += (all.empty() ? "" : std::string(record::kBetween)) + entry->words.str();
  }
  constexpr std::size_t most = 200;
  const auto text = ShopText::screened(w.fault_text, "--fault-text", most);
  if (!text) return text.error();
  if (!text->empty()) all += (all.empty() ? "" : std::string(record::kBetween)) + text->str();
  if (all.empty())
    return Error{ErrorCode::invalid_argument, "no fault was given", "--fault",
                 "Name one of the list, for example --fault screen-dark (handback intake --list-faults)."};
  return ShopText::screened(all, "--fault", 2 * most);
}

/// "NAME@LOT" or "NAME".
Result<record::Part> parse_part(const std::string& text) {
  const auto at = text.rfind('@');
  record::Part p;
  constexpr std::size_t most = 80;
  auto name = listed_or_free(Catalogue::parts, text.substr(0, at), "--part", most);
  if (!name) return name.error();
  if (name->empty())
    return Error{ErrorCode::invalid_argument, "the part has no name", "--part",
                 "Expected NAME@LOT, for example display-assembly@LOT-7."};
  p.name = *name;
  if (at != std::string::npos) {
    auto lot = ShopText::lot(text.substr(at + 1), "--part (lot)");
    if (!lot) return lot.error();
    p.lot = *lot;
  }
  return p;
}
}  // namespace

void JobWords::add_options(CLI::App& sub) {
  sub.add_option("--fault", faults, "what the customer reports, from the list; repeat for more");
  sub.add_option("--fault-text", fault_text,
                 "the same in your own words, where the list has none: no names, no numbers, no codes");
  sub.add_option("--repair", repair, "kind of repair, from the list or in your own words");
  sub.add_option("--part", parts, "part fitted, as NAME@LOT; repeat for more");
  sub.add_option("--colour", colour, "colour mix agreed with the customer");
  for (const auto& [option, which] : {std::pair<const char*, Catalogue>{"--list-faults", Catalogue::faults},
                                      {"--list-repairs", Catalogue::repairs},
                                      {"--list-parts", Catalogue::parts},
                                      {"--list-colours", Catalogue::colours}})
    sub.add_flag_callback(
        option, [this, w = which] { list = w; }, "show the list and do nothing else");
}

Result<void> JobWords::into(record::Job& job) const {
  auto fault = faults_of(*this);
  if (!fault) return std::move(fault).error();
  job.fault = *fault;
  constexpr std::size_t most = 200;
  auto kind = listed_or_free(Catalogue::repairs, repair, "--repair", most);
  if (!kind) return std::move(kind).error();
  if (kind->empty())
    return Error{ErrorCode::invalid_argument, "no kind of repair was given", "--repair",
                 "Name one, for example --repair display-swap (handback intake --list-repairs)."};
  job.repair_kind = *kind;
  auto agreed = listed_or_free(Catalogue::colours, colour, "--colour", most);
  if (!agreed) return std::move(agreed).error();
  job.colour_agreed = *agreed;
  for (const auto& p : parts) {
    auto part = parse_part(p);
    if (!part) return std::move(part).error();
    job.parts_fitted.push_back(*part);
  }
  return {};
}

int show_catalogue(const App& app, Catalogue which) {
  if (app.json) {
    auto all = nlohmann::json::array();
    for (const auto& e : record::catalogue(which))
      all.push_back({{"id", e.id.str()}, {"words", e.words.str()}});
    fmt::print("{}\n", nlohmann::json{{record::sense(which).str() + "s", std::move(all)}}.dump(2));
    return kPass;
  }
  for (const auto& e : record::catalogue(which)) fmt::print("{:<24} {}\n", e.id.view(), e.words.view());
  return kPass;
}
}  // namespace hb::cli
