#include <algorithm>
#include <map>
#include <vector>

#include "profiles/profiles.hpp"

namespace hb::profiles {
namespace {
using nlohmann::json;

json number(const checks::KeySpec& k, const char* type) {
  const checks::KeySpec any;
  json out{{"type", type}};
  if (k.min > any.min) out["minimum"] = k.min;
  if (k.max < any.max) out["maximum"] = k.max;
  return out;
}

json text(const std::string& what) {
  return {{"type", "string"}, {"minLength", 1}, {"maxLength", 80}, {"description", what}};
}

json value(const checks::KeySpec& k) {
  json out;
  switch (k.type) {
    case checks::KeyType::number:
      out = number(k, "number");
      break;
    case checks::KeyType::integer:
      out = number(k, "integer");
      break;
    case checks::KeyType::text:
      return text(k.expects.str());
    case checks::KeyType::boolean:
      out = {{"type", "boolean"}};
      break;
    case checks::KeyType::numbers:
      out = {{"type", "array"}, {"minItems", 1}, {"items", number(k, "number")}};
      break;
  }
  out["description"] = k.expects.str();
  return out;
}

/// One table, or a list of them, as the section is written.
json shaped(const checks::SectionSpec& s, json table) {
  return s.array ? json{{"type", "array"}, {"minItems", 1}, {"items", std::move(table)}} : std::move(table);
}

/// A section with the keys of every check that reads it.
struct Section {
  checks::SectionSpec spec;
  json keys = json::object();
  std::vector<std::string> readers;
};

std::map<std::string, Section> sections_of(Checks known) {
  std::map<std::string, Section> all;
  for (const auto& c : known)
    for (const auto& s : c->sections()) {
      auto& into = all.try_emplace(s.name.str(), Section{s, json::object(), {}}).first->second;
      into.readers.push_back(c->info().id.str());
      for (const auto& k : s.keys)
        if (!into.keys.contains(k.key.str())) into.keys[k.key.str()] = value(k);
    }
  return all;
}

json table_of(const Section& s) {
  json out{{"type", "object"}, {"additionalProperties", false}, {"properties", s.keys}};
  if (s.spec.array) {
    out["properties"]["name"] = text("the part's name, unique among its kind");
    out["required"] = {"name"};
  }
  std::string readers;
  for (const auto& r : s.readers) readers += (readers.empty() ? "" : ", ") + r;
  out["description"] = "read by " + readers;
  return out;
}

/// True of a profile whose list of checks has one of these.
json lists_one_of(const std::vector<std::string>& ids) {
  const json contains{{"contains", {{"enum", ids}}}};
  return {{"properties", {{"phone", {{"properties", {{"checks", contains}}}}}}}};
}

json measured_by(const std::string& id) {
  return {{"properties", {{"measure", {{"pattern", "^" + id + "\\."}}}}}};
}

/// What a check asks of a profile that lists it, and what such a profile must not have without it.
json rule_of(const checks::AnyCheck& c) {
  const auto id = c.info().id.str();
  json sections = json::object();
  auto required = json::array({"limit"});
  for (const auto& s : c.sections()) {
    auto keys = json::array();
    for (const auto& k : s.keys)
      if (k.required) keys.push_back(k.key.str());
    if (keys.empty()) continue;
    required.push_back(s.name.str());
    sections[s.name.str()] = s.array ? json{{"items", {{"required", keys}}}} : json{{"required", keys}};
  }
  sections["limit"] = {{"contains", measured_by(id)}};
  return {{"if", lists_one_of({id})},
          {"then", {{"required", required}, {"properties", sections}}},
          {"else", {{"properties", {{"limit", {{"items", {{"not", measured_by(id)}}}}}}}}}};
}

json limit(Checks known) {
  auto measures = json::array();
  for (const auto& c : known)
    for (const auto& m : c->limit_keys()) measures.push_back(m.str());
  json bound{{"type", "number"}, {"description", "the bound, in the measure's unit"}};
  return {
      {"type", "object"},
      {"additionalProperties", false},
      {"properties",
       {{"measure", {{"enum", measures}, {"description", "what is limited"}}},
        {"part", text("the name of a part of this profile; without it, of every part")},
        {"lower", bound},
        {"upper", bound},
        {"origin",
         {{"enum", {"maker", "learned", "common practice"}}, {"description", "where the bound is from"}}}}},
      {"required", {"measure", "origin"}},
      {"anyOf", {{{"required", {"lower"}}}, {{"required", {"upper"}}}}}};
}

json phone(Checks known) {
  auto ids = json::array();
  for (const auto& c : known) ids.push_back(c->info().id.str());
  return {{"type", "object"},
          {"additionalProperties", false},
          {"properties",
           {{"name", text("the model's name for the sheet")},
            {"device", text("the phone's ro.product.device")},
            {"model", text("the phone's ro.product.model")},
            {"checks",
             {{"type", "array"},
              {"minItems", 1},
              {"uniqueItems", true},
              {"items", {{"enum", ids}}},
              {"description", "the checks, in the order in which they run"}}}}},
          {"required", {"name", "device", "model", "checks"}}};
}
}  // namespace

json schema(Checks known) {
  json properties{{"phone", phone(known)},
                  {"limit", {{"type", "array"}, {"minItems", 1}, {"items", limit(known)}}}};
  auto rules = json::array();
  for (const auto& [name, s] : sections_of(known)) {
    properties[name] = shaped(s.spec, table_of(s));
    rules.push_back({{"if", lists_one_of(s.readers)}, {"else", {{"properties", {{name, false}}}}}});
  }
  for (const auto& c : known) rules.push_back(rule_of(*c));
  return {{"$schema", "https://json-schema.org/draft/2020-12/schema"},
          {"title", "handback profile"},
          {"description", "one phone model: its parts, the checks that it gets, their limits"},
          {"type", "object"},
          {"additionalProperties", false},
          {"properties", properties},
          {"required", {"phone", "limit"}},
          {"allOf", rules}};
}
}  // namespace hb::profiles
