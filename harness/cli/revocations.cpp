#include "revocations.hpp"

#include <fmt/format.h>
#include <sys/stat.h>

#include <algorithm>

#include "harness/net/clock.hpp"
#include "root.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;
using sign::RevocationList;

fs::path memory_of(const fs::path& list) { return list.string() + ".known"; }

struct Memory {
  std::int64_t number = 0;
  Revoked revoked;
};

std::optional<Memory> read_memory(const fs::path& list) {
  const auto text = read_file(memory_of(list), 4U << 20);
  if (!text) return std::nullopt;
  const auto j = record::parse_strict(*text);
  if (!j || !j->is_object() || !j->contains("number") || !(*j)["number"].is_number_integer() ||
      !j->contains("revoked") || !(*j)["revoked"].is_array())
    return std::nullopt;
  Memory m{(*j)["number"].get<std::int64_t>(), {}};
  for (const auto& e : (*j)["revoked"]) {
    const auto text_of = [&](const char* name) {
      return e.is_object() && e.contains(name) && e[name].is_string() ? e[name].get<std::string>() : "";
    };
    if (text_of("kid").empty() || !e.contains("since") || !e["since"].is_number_integer())
      return std::nullopt;
    m.revoked.push_back({text_of("kid"), e["since"].get<std::int64_t>(), text_of("reason")});
  }
  return m;
}

Result<void> write_memory(const fs::path& list, std::int64_t number, const Revoked& revoked) {
  auto entries = json::array();
  for (const auto& e : revoked)
    entries.push_back({{"kid", e.kid}, {"reason", e.reason}, {"since", e.since_s}});
  return write_file(memory_of(list), json{{"number", number}, {"revoked", std::move(entries)}}.dump() + "\n");
}

/// Memory first: cut off between the two, the list is only asked for more than it holds.
Result<void> write_list(const fs::path& file, const std::vector<std::string>& tokens, std::int64_t number,
                        const Revoked& revoked) {
  if (auto w = write_memory(file, number, revoked); !w) return w;
  std::string lines;
  for (const auto& t : tokens) lines += t + "\n";
  return write_file(file, lines);
}

Revoked joined(Revoked a, const Revoked& b) {
  a.insert(a.end(), b.begin(), b.end());
  return sign::merge_revoked(std::move(a));
}

/// Nothing tells what it held.
bool is_lost(const ListFile& f) {
  return (f.state == ListFile::State::damaged || f.state == ListFile::State::empty) && !f.memory;
}

/// A list that was issued after the damaged file was last written is newer than whatever lay there.
bool is_newer_than(const fs::path& file, std::int64_t issued_s) {
  struct stat s {};
  return ::stat(file.c_str(), &s) == 0 && issued_s >= s.st_mtim.tv_sec;
}

std::string_view plain(ListFile::State s) {
  switch (s) {
    case ListFile::State::missing:
      return "is missing";
    case ListFile::State::empty:
      return "is empty";
    case ListFile::State::damaged:
      return "is damaged";
    case ListFile::State::forgetful:
      return "is an older one: it lacks keys that were revoked here before";
    case ListFile::State::good:
      break;
  }
  return "is good";
}
}  // namespace

fs::path list_of(const Home& home, const std::string& root_id) {
  return home.revocations() / (root_id + ".jwt");
}

fs::path list_beside(const fs::path& root_key_file, const std::string& root_id) {
  return root_key_file.parent_path() / ("revoked-" + root_id + ".jwt");
}

Result<ListFile> read_list(const fs::path& file, const sign::PublicKey& root) {
  using State = ListFile::State;
  ListFile f;
  f.file = file;
  if (const auto m = read_memory(file)) {
    f.memory = true;
    f.number = m->number;
    f.remembered = m->revoked;
  }
  std::error_code ec;
  if (fs::exists(file, ec)) {
    const auto tokens = read_tokens(file);
    if (!tokens && tokens.error().code != ErrorCode::bad_format) return tokens.error();
    f.state = !tokens ? State::damaged : tokens->empty() ? State::empty : State::good;
    for (const auto& t : tokens.value_or(std::vector<std::string>{})) {
      const auto list = sign::read_revocation_list(t, root);
      if (!list) {
        f.state = State::damaged;
        continue;
      }
      f.tokens.push_back(t);
      f.number = std::max(f.number, list->number);
      f.revoked.insert(f.revoked.end(), list->revoked.begin(), list->revoked.end());
    }
  }
  f.revoked = sign::merge_revoked(std::move(f.revoked));
  f.remembered = joined(std::move(f.remembered), f.revoked);
  if (f.state == State::good && !sign::lost_revocations(f.remembered, f.revoked).empty())
    f.state = State::forgetful;
  return f;
}

Result<std::string> take_list(const Home& home, const sign::PublicKey& root, const std::string& token,
                              const std::string& where) {
  const auto list = sign::read_revocation_list(token, root);
  if (!list) return list.error();
  const auto here = read_list(list_of(home, root.thumbprint()), root);
  if (!here) return here.error();
  if (is_lost(*here) && !is_newer_than(here->file, list->issued_s))
    return Error{
        ErrorCode::refused,
        fmt::format("the list here {}, nothing tells what it held, and this one may be older",
                    plain(here->state)),
        where, "Have a new one written where the root's key is (handback bench root merge) and accept that."};
  const auto lacks = sign::lost_revocations(here->remembered, list->revoked);
  const auto all = joined(here->remembered, list->revoked);
  const auto number = std::max(here->number, list->number);
  const auto words = fmt::format("revocation list {} with {} keys", list->number, list->revoked.size());
  if (lacks.empty()) {
    if (auto w = write_list(here->file, {token}, number, all); !w) return w.error();
    return words;
  }
  if (sign::lost_revocations(list->revoked, here->remembered).empty())
    return Error{ErrorCode::refused,
                 fmt::format("this revocation list is older than what is known here: it lacks {}",
                             fmt::join(lacks, ", ")),
                 where,
                 "Fetch the newest one, or write one where the root's key is: handback bench root merge."};
  auto tokens = here->tokens;
  if (std::find(tokens.begin(), tokens.end(), token) == tokens.end()) tokens.push_back(token);
  if (auto w = write_list(here->file, tokens, number, all); !w) return w.error();
  return fmt::format(
      "{}, merged with the list that is here: it lacks {}. Publish one list: where the root's key is, "
      "handback bench root merge {}",
      words, fmt::join(lacks, ", "), here->file.string());
}

Result<NewList> write_merged_list(const Home& home, const sign::SigningKey& root,
                                  const fs::path& root_key_file, const Revoked& more,
                                  const std::vector<std::string>& files) {
  const auto& pub = root.public_key();
  RevocationList list;
  bool another_copy = false;
  for (const auto& f : files) {
    const auto tokens = read_tokens(f);
    if (!tokens) return tokens.error();
    for (const auto& t : *tokens) {
      const auto l = sign::read_revocation_list(t, pub);
      if (!l)
        return Error{ErrorCode::altered, "this is no whole revocation list of this root", f,
                     "Give another copy of it."};
      another_copy = true;
      list.number = std::max(list.number, l->number);
      list.revoked.insert(list.revoked.end(), l->revoked.begin(), l->revoked.end());
    }
  }
  NewList out{list_of(home, root.key_id()), list_beside(root_key_file, root.key_id()), 0, {}};
  const auto here = read_list(out.file, pub), beside = read_list(out.beside, pub);
  for (const auto* f : {&here, &beside}) {
    if (!*f) return f->error();
    list.number = std::max(list.number, (*f)->number);
    list.revoked.insert(list.revoked.end(), (*f)->remembered.begin(), (*f)->remembered.end());
  }
  const bool whole = here->state == ListFile::State::good || beside->state == ListFile::State::good;
  for (const auto* f : {&here, &beside})
    if (is_lost(**f) && !whole && !another_copy)
      return Error{ErrorCode::altered,
                   fmt::format("the revocation list of this root {}, and nothing tells what it held",
                               plain((*f)->state)),
                   (*f)->file.string(),
                   "Give a copy of it; each bench has one in keys/revoked: handback bench root merge COPY."};
  list.revoked = joined(std::move(list.revoked), more);
  list.issued_s = net::utc_now_s();
  ++list.number;
  out.number = list.number;
  out.revoked = list.revoked;
  const auto jwt = sign::make_revocation_list(std::move(list), root);
  if (!jwt) return jwt.error();
  for (const auto& f : {out.beside, out.file})
    if (auto w = write_list(f, {*jwt}, out.number, out.revoked); !w) return w.error();
  return out;
}

Result<std::vector<ListTrouble>> list_troubles(const Home& home, const TrustFiles& named) {
  std::vector<ListTrouble> out;
  TrustFiles roots_only;
  roots_only.roots = named.roots;
  const auto v = gather_trust(home, roots_only);
  if (!v) return v.error();
  std::error_code ec;
  for (const auto& root : v->roots) {
    const auto id = root.thumbprint();
    if (!fs::exists(home.roots() / (id + ".jwk"), ec))
      continue;  // named only: this bench keeps no list of it
    const auto list = read_list(list_of(home, id), root);
    if (!list) return list.error();
    if (list->state == ListFile::State::good) continue;
    const auto own = root_key_file_of(home, id);
    std::string mend = "handback bench root merge";
    if (own.empty())
      mend = "handback bench root accept LIST, with the newest list (keys/revoked/" + id +
             ".jwt) of the root's computer or of another bench";
    else if (own != home.root_key())
      mend += " --root-key " + own.string();
    out.push_back(
        {id, list->state == ListFile::State::missing,
         fmt::format("the revocation list of root {} {} ({}): whether it revoked a key is not known", id,
                     plain(list->state), list->file.string()),
         std::move(mend)});
  }
  for (const auto& f : named.lists) {
    const auto tokens = read_tokens(f);
    if (!tokens && tokens.error().code != ErrorCode::bad_format) return tokens.error();
    const auto fits = [&](const std::string& t) {
      const auto issuer = sign::issuer_of(t);
      if (!issuer) return false;
      for (const auto& r : v->roots)
        if (r.thumbprint() == *issuer) return bool(sign::read_revocation_list(t, r));
      return true;  // of a root that is not known here: it is no part of the answer
    };
    if (tokens && !tokens->empty() && std::all_of(tokens->begin(), tokens->end(), fits)) continue;
    out.push_back(
        {"", false,
         fmt::format("the revocation list {} is {}", f, tokens && tokens->empty() ? "empty" : "damaged"),
         "Get it again from the shop."});
  }
  return out;
}
}  // namespace hb::cli
