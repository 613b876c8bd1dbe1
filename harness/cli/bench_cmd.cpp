#include <fmt/format.h>

#include "app.hpp"
#include "documents.hpp"
#include "keys.hpp"

namespace hb::cli {
namespace {
using nlohmann::json;

/// Makes the key protected, or puts the passphrase on the one that is here.
Result<void> protect_bench_key(const App& app, const Home& home) {
  const auto file = home.signing_key();
  if (!app.keys->key_file.empty())
    return Error{ErrorCode::refused, "only the key in the bench's folder can be protected here", "--protect",
                 "Leave out --key, or protect that file where it is kept."};
  std::error_code ec;
  if (!fs::exists(file, ec)) return save_key(home, sign::SigningKey::make(), file, true);
  if (is_protected_file(file)) return {};
  const auto key = home.keys().open(file);
  if (!key) return key.error();
  return replace_key(home, *key, file, true);
}

int init(const App& app, const std::string& shop, const std::string& name, const std::string& contact,
         bool protect) {
  const Home home = app.home();
  if (auto r = home.prepare(); !r) return report(app, r.error());
  BenchFacts b;
  for (auto [text, field, into] :
       {std::tuple<const std::string&, const char*, ShopText*>{shop, "--shop", &b.shop},
        {name, "--name", &b.name}}) {
    auto t = into == &b.shop ? ShopText::published(text, field, 80) : ShopText::screened(text, field, 80);
    if (!t) return report(app, t.error());
    *into = *t;
  }
  auto c = ShopText::published(contact, "--contact");
  if (!c) return report(app, c.error());
  b.contact = *c;
  if (auto r = home.set_bench(b); !r) return report(app, r.error());
  if (protect)
    if (auto r = protect_bench_key(app, home); !r) return report(app, r.error());
  auto key = bench_key(home);
  if (!key) return report(app, key.error());
  if (app.json)
    fmt::print("{}\n", json{{"home", home.root().string()}, {"key_id", key->key_id()}}.dump(2));
  else
    fmt::print(
        "Bench '{}' of '{}' is ready in {}\nIts public key: {}\nKeep a copy of the folder {} in a safe "
        "place.\n",
        b.name.str(), b.shop.str(), home.root().string(),
        (home.trusted() / (key->key_id() + ".jwk")).string(), (home.root() / "keys").string());
  return kPass;
}

int show(const App& app) {
  const Home home = app.home();
  auto b = home.bench();
  if (!b) return report(app, b.error());
  auto key = bench_key(home);
  if (!key) return report(app, key.error());
  const auto certificate = certified(home, key->key_id());
  if (!certificate) return report(app, certificate.error());
  if (app.json)
    fmt::print("{}\n", json{{"home", home.root().string()},
                            {"certified_until", certificate->until},
                            {"shop", b->shop.str()},
                            {"name", b->name.str()},
                            {"contact", b->contact.str()},
                            {"key_id", key->key_id()}}
                           .dump(2));
  else
    fmt::print(
        "Shop         {}\nBench        {}\nContact      {}\nKey id       {}\nCertificate  {}\nFolder       "
        "{}\n",
        b->shop.str(), b->name.str(), b->contact.str(), key->key_id(), certificate->says,
        home.root().string());
  return kPass;
}
}  // namespace

void add_bench(CLI::App& cli, App& app, Action& action) {
  auto* sub = cli.add_subcommand("bench", "this workstation: its name, key and folder");
  auto* i = sub->add_subcommand("init", "name the bench and make its keys");
  auto shop = std::make_shared<std::string>(), name = std::make_shared<std::string>("bench 1"),
       contact = std::make_shared<std::string>();
  i->add_option("--shop", *shop, "shop's name, as printed on sheets")->required();
  i->add_option("--name", *name, "this bench's name")->capture_default_str();
  i->add_option("--contact", *contact, "where customers find you")->required();
  auto protect = std::make_shared<bool>(false);
  i->add_flag("--protect", *protect,
              "protect the bench's key with a passphrase, a new one or the one that is here");
  i->callback([&app, &action, shop, name, contact, protect] {
    action = [&app, shop, name, contact, protect] { return init(app, *shop, *name, *contact, *protect); };
  });
  add_bench_root(*sub, app, action);
  add_bench_key(*sub, app, action);
  sub->callback([&app, &action, sub] {
    if (sub->get_subcommands().empty()) action = [&app] { return show(app); };
  });
}
}  // namespace hb::cli
