// handback bench key: this bench's own key.
#include <fmt/format.h>

#include "app.hpp"
#include "documents.hpp"
#include "harness/net/clock.hpp"
#include "root.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

struct KeyArgs {
  std::string file, root_key;
  int days = 730;
  bool protect = false, with_secret = false;
};

int show_json(const App& app, const json& j, const std::string& words) {
  if (app.json)
    fmt::print("{}\n", j.dump(2));
  else
    fmt::print("{}", words);
  return kPass;
}

int export_key(const App& app, const KeyArgs& a) {
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  const auto key = bench_key(home);
  if (!key) return report(app, key.error());
  if (!a.with_secret) {
    if (a.file.empty()) {
      fmt::print("{}\n", key->public_key().jwk());
      return kPass;
    }
    if (auto w = write_file(a.file, key->public_key().jwk() + "\n"); !w) return report(app, w.error());
    return show_json(app, {{"public", a.file}, {"key_id", key->key_id()}},
                     fmt::format("Public key: {}\n", a.file));
  }
  if (a.file.empty())
    return report(app, {ErrorCode::invalid_argument, "a private key is written to a file only", "--out",
                        "Name a file on the medium for the backup."});
  if (auto r = save_key(home, *key, a.file, a.protect); !r) return report(app, r.error());
  return show_json(app, {{"private", a.file}, {"key_id", key->key_id()}, {"protected", a.protect}},
                   fmt::format("Private key: {} (mode 0600{})\n", a.file,
                               a.protect ? ", protected by the passphrase" : ", not protected"));
}

int import_key(const App& app, const KeyArgs& a) {
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  const auto key = home.keys().open(a.file);
  if (!key) return report(app, key.error());
  const bool protect = a.protect || is_protected_file(a.file);
  if (fs::exists(home.signing_key())) {
    const auto here = home.keys().open(home.signing_key());
    if (!here) return report(app, here.error());
    if (here->key_id() != key->key_id())
      return report(app, {ErrorCode::refused, "this bench has another key", home.signing_key().string(),
                          "Move it away first, or give the old one at each run with --key FILE."});
    const bool protects = a.protect && !is_protected_file(home.signing_key());
    if (protects)
      if (auto r = replace_key(home, *here, home.signing_key(), true); !r) return report(app, r.error());
    return show_json(app, {{"key_id", key->key_id()}, {"changed", false}, {"protected", protects}},
                     protects ? "This is the key that the bench has already; the passphrase is on it now.\n"
                              : "This is the key that the bench has already.\n");
  }
  if (auto r = save_key(home, *key, home.signing_key(), protect); !r) return report(app, r.error());
  if (const auto made = bench_key(home); !made) return report(app, made.error());
  return show_json(app, {{"key_id", key->key_id()}, {"changed", true}},
                   fmt::format("The bench signs with key {} again.\n", key->key_id()));
}

int protect_key(const App& app, bool protect) {
  const Home home = app.home();
  const auto key = home.keys().open(home.signing_key());
  if (!key) return report(app, key.error());
  if (auto r = replace_key(home, *key, home.signing_key(), protect); !r) return report(app, r.error());
  return show_json(
      app, {{"key_id", key->key_id()}, {"protected", protect}},
      protect ? "The bench's key is protected by the passphrase. A copy of the unprotected file may still be "
                "in backups and on the disk's free blocks.\n"
              : "The bench's key is no longer protected by a passphrase.\n");
}

/// A new key; the old one's public half stays trusted, so its sheets still verify.
int rotate(const App& app, const KeyArgs& a) {
  const Home home = app.home();
  if (!app.keys->key_file.empty())
    return report(app, {ErrorCode::invalid_argument, "only the key in the bench's folder can be changed",
                        "--key", "Make the new key where the other one is kept."});
  if (auto r = home.prepare(); !r) return report(app, r.error());
  const auto old = bench_key(home);
  if (!old) return report(app, old.error());
  const auto file = home.signing_key();
  const auto next = sign::SigningKey::make();
  const fs::path next_file = file.string() + ".next";
  std::error_code ec;
  fs::remove(next_file, ec);
  if (auto r = save_key(home, next, next_file, a.protect || is_protected_file(file)); !r)
    return report(app, r.error());
  const auto root_file = a.root_key.empty() ? home.root_key() : fs::path(a.root_key);
  std::string certificate;
  if (fs::exists(root_file)) {
    const auto root = home.keys().open(root_file);
    if (!root) return report(app, root.error());
    const auto bench = home.bench();
    const auto made = issue_bench_certificate(home, *root, next.public_key(), bench ? bench->name.str() : "",
                                              net::utc_now_s(), a.days);
    if (!made) return report(app, made.error());
    certificate = made->file.string();
  }
  const auto pub = home.trusted() / (next.key_id() + ".jwk");
  if (auto w = write_file(pub, next.public_key().jwk()); !w) return report(app, w.error());
  const auto kept = retire(home, old->key_id(), file, next_file);
  if (!kept) return report(app, kept.error());
  return show_json(
      app,
      {{"key_id", next.key_id()},
       {"old", old->key_id()},
       {"public", pub.string()},
       {"old_private", kept->string()},
       {"certificate", certificate}},
      fmt::format("The bench signs with key {} from now on. Sheets of the old key still verify.\nPublic "
                  "key: {}\nThe old private key lies in {}: delete it when your backups are in order.\n{}",
                  next.key_id(), pub.string(), kept->string(),
                  certificate.empty()
                      ? "No root is here: have the shop's root certify the new key, or hand it out.\n"
                      : "Certificate: " + certificate + "\n"));
}
}  // namespace

void add_bench_key(CLI::App& bench, App& app, Action& action) {
  auto* key = bench.add_subcommand("key", "this bench's key: change, protect, back up, restore");
  key->require_subcommand(1);
  auto a = std::make_shared<KeyArgs>();
  const auto verb = [&, a](const char* name, const char* help, std::function<int(const KeyArgs&)> act) {
    auto* sub = key->add_subcommand(name, help);
    sub->callback([&action, a, act] { action = [a, act] { return act(*a); }; });
    return sub;
  };
  auto* r = verb("rotate", "change it for a new one", [&app](const KeyArgs& x) { return rotate(app, x); });
  r->add_flag("--protect", a->protect, "protect the new one with a passphrase");
  r->add_option("--root-key", a->root_key, "certify with this root (default: keys/root.jwk, if there)");
  r->add_option("--days", a->days, "for so many days")->check(CLI::Range(1, 36500))->capture_default_str();
  verb("protect", "put a passphrase on it, or a new one",
       [&app](const KeyArgs&) { return protect_key(app, true); });
  verb("unprotect", "take the passphrase off", [&app](const KeyArgs&) { return protect_key(app, false); });
  auto* e = verb("export", "write the public key (or, with --private, a backup)",
                 [&app](const KeyArgs& x) { return export_key(app, x); });
  e->add_option("--out", a->file, "file; the public key goes to standard output without it")
      ->type_name("FILE");
  e->add_flag("--private", a->with_secret, "the private key, for a backup");
  e->add_flag("--protect", a->protect, "protect the backup with a passphrase");
  auto* i = verb("import", "restore the private key from a backup",
                 [&app](const KeyArgs& x) { return import_key(app, x); });
  i->add_option("FILE", a->file, "the backup")->required();
  i->add_flag("--protect", a->protect, "protect it with a passphrase here");
}
}  // namespace hb::cli
