#include <CLI/CLI.hpp>

#include "harness/manual/manual.hpp"

namespace hb::manual {
namespace {
/// "{a4,letter}" in a type's name: the words that it may be.
std::vector<std::string> choices_in(const std::string& type) {
  const auto open = type.find('{');
  const auto close = type.find('}', open);
  if (open == std::string::npos || close == std::string::npos) return {};
  return CLI::detail::split(type.substr(open + 1, close - open - 1), ',');
}

Offer offer_of(const std::string& value) {
  if (value == "DIR") return Offer::folder;
  if (value == "N" || value == "INT" || value == "UINT" || value == "FLOAT") return Offer::nothing;
  return Offer::file;  // a text is often a file's name
}

Option option_of(const CLI::Option& o) {
  Option out;
  for (const auto& n : o.get_snames()) out.names.push_back("-" + n);
  for (const auto& n : o.get_lnames()) out.names.push_back("--" + n);
  out.help = o.get_description();
  out.required = o.get_required();
  const auto type = o.get_type_name();
  if (o.get_items_expected_max() > 0) {
    out.value = out.names.empty() ? o.get_name(true) : type.substr(0, type.find(':'));
    out.choices = choices_in(type);
    out.offer = out.choices.empty() ? offer_of(out.value) : Offer::choices;
    out.fallback = o.get_default_str();
    out.repeats = o.get_items_expected_max() > 1;
  }
  return out;
}

Command command_of(const CLI::App& app, std::vector<std::string> path) {
  Command out;
  path.push_back(app.get_name());
  out.help = app.get_description();
  out.footer = app.get_footer();
  out.needs_command = app.get_require_subcommand_min() > 0;
  for (const auto* o : app.get_options())
    if (!o->get_group().empty()) out.options.push_back(option_of(*o));
  for (const auto* sub : app.get_subcommands([](const CLI::App* a) { return !a->get_group().empty(); })) {
    auto below = command_of(*sub, path);
    if (sub->get_name().empty())  // a group of options, which CLI11 keeps as a command without a name
      for (auto& o : below.options) out.options.push_back(std::move(o));
    else
      out.commands.push_back(std::move(below));
  }
  out.path = std::move(path);
  return out;
}
}  // namespace

Command read(const CLI::App& program) { return command_of(program, {}); }
}  // namespace hb::manual
