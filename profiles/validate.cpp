#include "validate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "harness/base/text.hpp"
#include "reports/record/words.hpp"

namespace hb::profiles {
namespace {
std::string suggestion(std::string_view word, const std::vector<std::string>& known) {
  if (const auto n = nearest(word, known)) return fmt::format("Did you mean '{}'?", *n);
  std::string list;
  for (const auto& k : known) list += (list.empty() ? "" : ", ") + k;
  return fmt::format("Known here: {}.", list);
}

std::string_view name_of(checks::KeyType t) {
  switch (t) {
    case checks::KeyType::number:
      return "a number";
    case checks::KeyType::integer:
      return "a whole number";
    case checks::KeyType::text:
      return "a text";
    case checks::KeyType::boolean:
      return "true or false";
    case checks::KeyType::numbers:
      return "a list of numbers";
  }
  return "a value";
}

/// A key may be shared by two checks that read the same section; the first spec wins.
void merge(std::vector<checks::SectionSpec>& all, const checks::SectionSpec& more) {
  const auto it = std::find_if(all.begin(), all.end(), [&](const auto& s) { return s.name == more.name; });
  if (it == all.end()) return all.push_back(more);
  for (const auto& k : more.keys) {
    const auto have =
        std::find_if(it->keys.begin(), it->keys.end(), [&](const auto& x) { return x.key == k.key; });
    if (have == it->keys.end())
      it->keys.push_back(k);
    else
      have->required = have->required || k.required;
  }
}
}  // namespace

void Validator::problem(const toml::node* at, std::string key, std::string what, std::string expected) {
  std::string where = file_;
  if (at != nullptr && at->source().begin.line > 0) where += fmt::format(":{}", at->source().begin.line);
  if (!key.empty()) where += ", key " + key;
  problems_.push_back(Error{ErrorCode::bad_format, std::move(what), std::move(where), std::move(expected)});
}

std::vector<const checks::AnyCheck*> Validator::used() const {
  std::vector<const checks::AnyCheck*> out;
  for (const auto& id : p_.checks)
    for (const auto& c : known_)
      if (c->info().id.view() == id) out.push_back(c.get());
  return out;
}

std::optional<ShopText> Validator::shop_text(const toml::node* n, const std::string& path,
                                             std::string expected, bool required) {
  if (n == nullptr) {
    if (required) problem(nullptr, path, "this key is missing", "Expected " + expected + ".");
    return std::nullopt;
  }
  const auto s = n->value_exact<std::string>();
  if (!s || s->empty()) {
    problem(n, path, "wrong type", "Expected " + expected + ", as a text in quotes.");
    return std::nullopt;
  }
  auto text = ShopText::screened(*s, path, 80);
  if (!text) {
    problem(n, path, text.error().what, text.error().next);
    return std::nullopt;
  }
  return *text;
}

void Validator::phone_table(const toml::table& doc) {
  const auto* t = doc["phone"].as_table();
  if (t == nullptr)
    return problem(nullptr, "phone", "the table [phone] is missing",
                   "Expected name, device, model and checks.");
  const std::vector<std::string> keys{"name", "device", "model", "checks"};
  for (const auto& [k, v] : *t)
    if (std::find(keys.begin(), keys.end(), std::string(k.str())) == keys.end())
      problem(&v, "phone." + std::string(k.str()), "unknown key", suggestion(k.str(), keys));
  if (auto x = shop_text(t->get("name"), "phone.name", "the model's name for the sheet", true)) p_.name = *x;
  if (auto x = shop_text(t->get("device"), "phone.device", "the phone's ro.product.device", true))
    p_.device = x->str();
  if (auto x = shop_text(t->get("model"), "phone.model", "the phone's ro.product.model", true))
    p_.model = x->str();

  std::vector<std::string> ids;
  for (const auto& c : known_) ids.push_back(c->info().id.str());
  const auto* list = t->get("checks") != nullptr ? t->get("checks")->as_array() : nullptr;
  if (list == nullptr || list->empty())
    return problem(t->get("checks"), "phone.checks", "the list of checks is missing or empty",
                   suggestion("", ids));
  for (const auto& n : *list) {
    const auto id = n.value_exact<std::string>();
    if (!id)
      problem(&n, "phone.checks", "wrong type", "Expected the name of a check, in quotes.");
    else if (std::find(ids.begin(), ids.end(), *id) == ids.end())
      problem(&n, "phone.checks", fmt::format("there is no check '{}'", printable(*id, 40)),
              suggestion(*id, ids));
    else if (std::find(p_.checks.begin(), p_.checks.end(), *id) != p_.checks.end())
      problem(&n, "phone.checks", fmt::format("'{}' stands twice", *id), "List each check once.");
    else
      p_.checks.push_back(*id);
  }
}

std::optional<double> Validator::bound(const toml::node& n, const checks::KeySpec& spec,
                                       const std::string& path) {
  std::optional<double> v;
  if (n.is_integer()) v = static_cast<double>(*n.value_exact<std::int64_t>());
  if (n.is_floating_point()) v = n.value_exact<double>();
  if (!v || !std::isfinite(*v)) {
    problem(&n, path, "wrong type", fmt::format("Expected {}: {}.", name_of(spec.type), spec.expects.view()));
    return std::nullopt;
  }
  if (*v < spec.min || *v > spec.max) {
    problem(&n, path, fmt::format("{:g} is out of range", *v),
            fmt::format("Expected {} from {:g} to {:g}: {}.", name_of(spec.type), spec.min, spec.max,
                        spec.expects.view()));
    return std::nullopt;
  }
  return v;
}

std::optional<checks::Setting> Validator::value(const toml::node& n, const checks::KeySpec& spec,
                                                const std::string& path) {
  const auto wrong = [&] {
    problem(&n, path, "wrong type", fmt::format("Expected {}: {}.", name_of(spec.type), spec.expects.view()));
    return std::nullopt;
  };
  switch (spec.type) {
    case checks::KeyType::boolean:
      if (const auto b = n.value_exact<bool>()) return *b;
      return wrong();
    case checks::KeyType::text: {
      const auto t = shop_text(&n, path, spec.expects.str(), false);
      if (!t) return std::nullopt;
      return t->str();
    }
    case checks::KeyType::integer:
      if (!n.is_integer()) return wrong();
      if (!bound(n, spec, path)) return std::nullopt;
      return static_cast<long long>(*n.value_exact<std::int64_t>());
    case checks::KeyType::number: {
      const auto v = bound(n, spec, path);
      if (!v) return std::nullopt;
      return *v;
    }
    case checks::KeyType::numbers: {
      const auto* a = n.as_array();
      if (a == nullptr || a->empty()) return wrong();
      std::vector<double> out;
      for (const auto& e : *a) {
        const auto v = bound(e, spec, path);
        if (!v) return std::nullopt;
        out.push_back(*v);
      }
      return out;
    }
  }
  return std::nullopt;
}

void Validator::section(const toml::table& t, const checks::SectionSpec& spec, const std::string& path) {
  checks::Section s;
  std::vector<std::string> keys;
  if (spec.array) keys.emplace_back("name");
  for (const auto& k : spec.keys) keys.push_back(k.key.str());
  if (spec.array) {
    if (auto n = shop_text(t.get("name"), path + ".name", "the part's name, unique among its kind", true)) {
      s.name = *n;
      for (const auto* other : p_.sections.named(spec.name.view()))
        if (other->name == *n)
          problem(t.get("name"), path + ".name", "this name stands twice",
                  "Give each part a name of its own.");
    }
  }
  for (const auto& [k, v] : t) {
    const std::string key(k.str());
    if (spec.array && key == "name") continue;
    const auto it =
        std::find_if(spec.keys.begin(), spec.keys.end(), [&](const auto& x) { return x.key.view() == key; });
    if (it == spec.keys.end())
      problem(&v, path + "." + key, "unknown key", suggestion(key, keys));
    else if (auto j = value(v, *it, path + "." + key))
      s.values[key] = std::move(*j);
  }
  for (const auto& k : spec.keys)
    if (k.required && t.get(k.key.view()) == nullptr)
      problem(&t, path + "." + k.key.str(), "this key is missing",
              fmt::format("Expected {}: {}.", name_of(k.type), k.expects.view()));
  p_.sections.all.emplace_back(spec.name.str(), std::move(s));
}

void Validator::check_sections(const toml::table& doc) {
  std::vector<checks::SectionSpec> specs;
  for (const auto* c : used())
    for (const auto& s : c->sections()) merge(specs, s);
  for (const auto& spec : specs) {
    const std::string n = spec.name.str();
    const bool needed =
        std::any_of(spec.keys.begin(), spec.keys.end(), [](const auto& k) { return k.required; });
    const auto* node = doc.get(spec.name.view());
    if (node == nullptr) {
      if (needed)
        problem(nullptr, n,
                fmt::format("the section {} is missing", spec.array ? "[[" + n + "]]" : "[" + n + "]"),
                "A check of this profile reads it.");
      continue;
    }
    if (!spec.array) {
      if (const auto* t = node->as_table())
        section(*t, spec, n);
      else
        problem(node, n, "wrong shape", "Expected one table, written [" + n + "].");
      continue;
    }
    const auto* a = node->as_array();
    if (a == nullptr || a->empty() || !a->is_homogeneous(toml::node_type::table)) {
      problem(node, n, "wrong shape", "Expected one table a part, each written [[" + n + "]].");
      continue;
    }
    for (const auto& e : *a) section(*e.as_table(), spec, n);
  }
}

void Validator::unknown_tables(const toml::table& doc) {
  std::vector<std::string> names{"phone", "limit", "disturbs"};
  std::vector<std::string> others;
  for (const auto& c : known_) {
    const auto id = c->info().id.str();
    const bool on = std::find(p_.checks.begin(), p_.checks.end(), id) != p_.checks.end();
    for (const auto& s : c->sections()) (on ? names : others).push_back(s.name.str());
  }
  std::sort(names.begin(), names.end());
  names.erase(std::unique(names.begin(), names.end()), names.end());
  for (const auto& [k, v] : doc) {
    const std::string key(k.str());
    if (std::find(names.begin(), names.end(), key) != names.end()) continue;
    if (std::find(others.begin(), others.end(), key) != others.end())
      problem(&v, key, "no check of this profile reads this section",
              "Add the check to phone.checks, or remove the section.");
    else
      problem(&v, key, "unknown section", suggestion(key, names));
  }
}

void Validator::one_limit(const toml::table& t) {
  const std::vector<std::string> keys{"measure", "part", "lower", "upper", "origin"};
  for (const auto& [k, v] : t)
    if (std::find(keys.begin(), keys.end(), std::string(k.str())) == keys.end())
      problem(&v, "limit." + std::string(k.str()), "unknown key", suggestion(k.str(), keys));
  checks::Limit l;
  std::vector<std::string> measures;
  for (const auto* c : used())
    for (const auto& m : c->limit_keys()) measures.push_back(m.str());
  const auto m = t["measure"].value_exact<std::string>();
  if (!m || std::find(measures.begin(), measures.end(), *m) == measures.end())
    return problem(t.get("measure") != nullptr ? t.get("measure") : &t, "limit.measure",
                   m ? fmt::format("no check of this profile measures '{}'", printable(*m, 60))
                     : "this key is missing or no text",
                   suggestion(m.value_or(""), measures));
  l.key = *m;
  if (const auto* part = t.get("part")) {
    const auto p = shop_text(part, "limit.part", "the name of a part of this profile", true);
    if (!p) return;
    std::vector<std::string> parts;
    for (const auto& [n, s] : p_.sections.all)
      if (!s.name.empty()) parts.push_back(s.name.str());
    if (std::find(parts.begin(), parts.end(), p->str()) == parts.end())
      return problem(part, "limit.part", fmt::format("this profile has no part '{}'", p->str()),
                     suggestion(p->str(), parts));
    l.part = *p;
  }
  const checks::KeySpec any{"bound", checks::KeyType::number, "the bound, in the measure's unit"};
  if (const auto* n = t.get("lower")) l.lower = bound(*n, any, "limit.lower");
  if (const auto* n = t.get("upper")) l.upper = bound(*n, any, "limit.upper");
  if (!l.lower && !l.upper)
    return problem(&t, "limit", fmt::format("the limit on {} has no bound", l.key),
                   "Expected lower, upper or both.");
  if (l.lower && l.upper && *l.lower >= *l.upper)
    return problem(&t, "limit", fmt::format("lower is not below upper for {}", l.key),
                   "Expected lower < upper.");
  const auto origin = t["origin"].value_or(std::string{});
  if (origin == "maker")
    l.origin = checks::LimitOrigin::maker_figure;
  else if (origin == "learned")
    l.origin = checks::LimitOrigin::learned;
  else if (origin != "common practice")
    return problem(t.get("origin") != nullptr ? t.get("origin") : &t, "limit.origin",
                   "missing or unknown origin", "Expected \"maker\", \"learned\" or \"common practice\".");
  for (const auto& other : p_.limits)
    if (other.key == l.key && other.part == l.part)
      return problem(&t, "limit.measure", fmt::format("a second limit on {}", l.key),
                     "Keep one a measure and part.");
  p_.limits.push_back(std::move(l));
}

void Validator::limits(const toml::table& doc) {
  const auto* node = doc.get("limit");
  const auto* a = node != nullptr ? node->as_array() : nullptr;
  if (a == nullptr || !a->is_homogeneous(toml::node_type::table))
    return problem(node, "limit", "no limits",
                   "Expected at least one [[limit]] a check: without one nothing can be judged.");
  for (const auto& e : *a) one_limit(*e.as_table());
  for (const auto& id : p_.checks) {
    const bool has = std::any_of(p_.limits.begin(), p_.limits.end(),
                                 [&](const auto& l) { return l.key.rfind(id + ".", 0) == 0; });
    if (!has)
      problem(nullptr, "limit", fmt::format("no limit on any measure of '{}'", id),
              "Add one, or take the check out of phone.checks.");
  }
}

/// part = ["check", ...]: what opening that part again spoils.
void Validator::disturbs(const toml::table& doc) {
  const auto* node = doc.get("disturbs");
  if (node == nullptr) return;
  const auto* t = node->as_table();
  if (t == nullptr)
    return problem(node, "disturbs", "wrong shape", "Expected one table, written [disturbs].");
  std::vector<std::string> parts;
  for (const auto& w : record::opened_parts()) parts.push_back(w.id.str());
  for (const auto& [k, v] : *t) {
    const std::string part(k.str()), path = "disturbs." + part;
    if (std::find(parts.begin(), parts.end(), part) == parts.end()) {
      problem(&v, path, "unknown part", suggestion(part, parts));
      continue;
    }
    const auto* list = v.as_array();
    if (list == nullptr || list->empty()) {
      problem(&v, path, "wrong type", "Expected a list of checks of this profile, each in quotes.");
      continue;
    }
    for (const auto& n : *list) {
      const auto id = n.value_exact<std::string>().value_or("");
      if (std::find(p_.checks.begin(), p_.checks.end(), id) == p_.checks.end())
        problem(&n, path, fmt::format("this profile has no check '{}'", printable(id, 40)),
                suggestion(id, p_.checks));
      else
        p_.disturbs[part].insert(id);
    }
  }
}

void Validator::configure() {
  for (const auto* c : used())
    if (auto r = c->try_configure(p_.sections); !r)
      problem(nullptr, c->info().id.str() + (r.error().where.empty() ? "" : ", " + r.error().where),
              r.error().what, r.error().next);
}

Loaded Validator::run(const toml::table& doc) {
  phone_table(doc);
  check_sections(doc);
  unknown_tables(doc);
  limits(doc);
  disturbs(doc);
  if (problems_.empty()) configure();
  if (!problems_.empty()) return {std::nullopt, std::move(problems_)};
  p_.file = file_;
  return {std::move(p_), {}};
}
}  // namespace hb::profiles
